const $ = id => document.getElementById(id);
const canvas = $('map'), ctx = canvas.getContext('2d');
const NONE = -2147483648;
const MONTHS = ['Jan', 'Feb', 'Mar', 'Apr', 'May', 'Jun', 'Jul', 'Aug', 'Sep', 'Oct', 'Nov', 'Dec'];
const SPLIT = ['Receiver and its films', 'Mirror', 'Row', 'Ground', 'Site, shared', 'Running, per kWh'];
const trouble = text => { $('trouble').hidden = false; $('trouble').textContent = text; };

// ---- Data: unpack the columns

async function unpack() {
  const raw = Uint8Array.from(atob($('data').textContent.trim()), c => c.charCodeAt(0));
  const stream = new Blob([raw]).stream().pipeThrough(new DecompressionStream('deflate-raw'));
  const buf = new Uint8Array(await new Response(stream).arrayBuffer());
  const size = new DataView(buf.buffer).getUint32(0, true);
  const h = JSON.parse(new TextDecoder().decode(buf.subarray(4, 4 + size)));
  const n = h.places;
  let at = 4 + size;
  h.values = [];
  h.layers.forEach((_, l) => {
    const layer = {};
    h.columns.forEach((name, c) => {
      const ref = h.refs[l][c], from = ref < 0 ? null : h.values[ref][name], out = new Int32Array(n);
      for (let i = 0; i < n; i++) {
        const u = buf[at + i] | buf[at + n + i] << 8 | buf[at + 2 * n + i] << 16 | buf[at + 3 * n + i] << 24;
        out[i] = ((u >>> 1) ^ -(u & 1)) + (from ? from[i] : i ? out[i - 1] : 0);
      }
      at += 4 * n;
      layer[name] = out;
    });
    h.values.push(layer);
  });
  return h;
}

if (typeof DecompressionStream === 'undefined') {
  trouble('This browser cannot unpack the data of this page (it lacks DecompressionStream). A browser of 2023 or later can.');
  return;
}
let D;
try { D = await unpack(); } catch (e) { trouble('The data of this page cannot be read: ' + e.message); return; }

// ---- State, which the address holds

const state = { layer: 0, p: 0, at: -1, chosen: -1, lon: 0, lat: 0, zoom: 1 };
const column = name => D.values[state.layer][name];
const known = (name, i) => column(name)[i] !== NONE;
function show(name, i) {
  const v = column(name)[i], digits = D.digits[state.layer][D.columns.indexOf(name)];
  return v === NONE ? 'not known' : (v / 10 ** digits).toFixed(digits).replace('-', '−');
}
const name = i => D.names[i][1] ? D.names[i][1] + ' (' + D.names[i][0] + ')' : D.names[i][0];
const hasHeat = i => column('class')[i] >= 0;
// Not sure which is cheaper: the probability lies between these, per cent.
const UNSURE = [10, 90];
const unsure = i => known('sure', i) && column('sure')[i] > UNSURE[0] * 10 && column('sure')[i] < UNSURE[1] * 10;
const passes = i => state.p === 0 ? hasHeat(i) : known('sure', i) && column('sure')[i] >= state.p * 10;
const layerOf = (use, outlet) => D.layers.findIndex(l => l.use === use && l.outlet === outlet);

const world = D.bounds.reduce((w, b) => [Math.min(w[0], b[0]), Math.min(w[1], b[1]), Math.max(w[2], b[2]), Math.max(w[3], b[3])],
  D.places ? [1e9, 1e9, -1e9, -1e9] : [-180000, -90000, 180000, 90000]).map(v => v / 1000);
const home = { lon: (world[0] + world[2]) / 2, lat: (world[1] + world[3]) / 2 };
const squeeze = Math.max(0.2, Math.cos(home.lat * Math.PI / 180));
const middle = i => [(D.bounds[i][0] + D.bounds[i][2]) / 2000, (D.bounds[i][1] + D.bounds[i][3]) / 2000];

function remember(push) {
  const l = D.layers[state.layer];
  const q = new URLSearchParams({ use: l.use, outlet: l.outlet, p: state.p, lon: state.lon.toFixed(3), lat: state.lat.toFixed(3), zoom: state.zoom.toFixed(3) });
  if (state.chosen >= 0) q.set('site', D.names[state.chosen][0]);
  const hash = '#' + q;
  if (hash === location.hash) return;
  history[push ? 'pushState' : 'replaceState'](null, '', hash);
}
function restore() {
  const q = new URLSearchParams(location.hash.slice(1));
  const num = (key, low, high, other) => { const v = parseFloat(q.get(key)); return v >= low && v <= high ? v : other; };
  const l = layerOf(q.get('use'), parseFloat(q.get('outlet')));
  state.layer = l < 0 ? 0 : l;
  state.p = Math.round(num('p', 0, 100, 0));
  state.lon = num('lon', -360, 360, home.lon);
  state.lat = num('lat', -90, 90, home.lat);
  state.zoom = num('zoom', 0.2, 500, 1);
  state.chosen = q.has('site') ? D.names.findIndex(n => n[0] === q.get('site')) : -1;
  state.at = state.chosen;
}

'use strict';
(async () => {
const $ = id => document.getElementById(id);
const canvas = $('map'), ctx = canvas.getContext('2d');
const NONE = -2147483648;
const MONTHS = ['Jan', 'Feb', 'Mar', 'Apr', 'May', 'Jun', 'Jul', 'Aug', 'Sep', 'Oct', 'Nov', 'Dec'];
const SPLIT = ['receiver', 'mirror', 'row', 'ground', 'site', 'each kWh'];
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
  return v === NONE ? 'not known' : (v / 10 ** digits).toFixed(digits);
}
const name = i => D.names[i][1] ? D.names[i][1] + ' (' + D.names[i][0] + ')' : D.names[i][0];
const hasHeat = i => column('class')[i] >= 0;
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

// ---- Map

let width = 0, height = 0;
function perDegree() {
  const w = Math.max(world[2] - world[0], 1) * squeeze, h = Math.max(world[3] - world[1], 1);
  return 0.92 * Math.min(width / w, height / h) * state.zoom;
}
const toX = lon => width / 2 + (lon - state.lon) * squeeze * perDegree();
const toY = lat => height / 2 - (lat - state.lat) * perDegree();
const toLon = x => state.lon + (x - width / 2) / squeeze / perDegree();
const toLat = y => state.lat - (y - height / 2) / perDegree();

function trace(ring) {
  for (let i = 0; i < ring.length; i += 2) ctx[i ? 'lineTo' : 'moveTo'](toX(ring[i] / 1000), toY(ring[i + 1] / 1000));
  ctx.closePath();
}
const isPoint = i => D.bounds[i][0] === D.bounds[i][2] && D.bounds[i][1] === D.bounds[i][3];
function traceCell(i) {
  ctx.beginPath();
  const b = D.bounds[i];
  if (isPoint(i)) ctx.arc(toX(b[0] / 1000), toY(b[1] / 1000), 7, 0, 7);
  else if (D.rings[i]) D.rings[i].forEach(trace);
  else trace([b[0], b[1], b[2], b[1], b[2], b[3], b[0], b[3]]);
}
function hatching() {
  const t = document.createElement('canvas');
  t.width = t.height = 6;
  const c = t.getContext('2d');
  c.fillStyle = '#d9d9d9'; c.fillRect(0, 0, 6, 6);
  c.strokeStyle = '#777'; c.beginPath(); c.moveTo(0, 6); c.lineTo(6, 0); c.stroke();
  return ctx.createPattern(t, 'repeat');
}
const hatch = hatching();
function inView(i) {
  const b = D.bounds[i], m = 8;
  return toX(b[2] / 1000) >= -m && toX(b[0] / 1000) <= width + m && toY(b[1] / 1000) >= -m && toY(b[3] / 1000) <= height + m;
}
function draw() {
  const dense = window.devicePixelRatio || 1;
  width = canvas.clientWidth; height = canvas.clientHeight;
  if (canvas.width !== Math.round(width * dense) || canvas.height !== Math.round(height * dense)) {
    canvas.width = Math.round(width * dense); canvas.height = Math.round(height * dense);
  }
  ctx.setTransform(dense, 0, 0, dense, 0, 0);
  ctx.fillStyle = '#eef1f2'; ctx.fillRect(0, 0, width, height);
  ctx.beginPath(); D.outline.forEach(trace); ctx.fillStyle = '#fbfbf9'; ctx.fill('evenodd');
  for (let i = 0; i < D.places; i++) {
    if (!inView(i)) continue;
    const k = column('class')[i];
    traceCell(i);
    ctx.globalAlpha = k < 0 || passes(i) ? 1 : 0.14;
    ctx.fillStyle = k < 0 ? hatch : D.classes[k].colour;
    ctx.fill();
    if (isPoint(i)) { ctx.strokeStyle = '#1d1d1d'; ctx.lineWidth = 1; ctx.stroke(); }
  }
  ctx.globalAlpha = 1;
  ctx.beginPath(); D.outline.forEach(trace); ctx.strokeStyle = '#4a4a4a'; ctx.lineWidth = 1; ctx.stroke();
  ctx.beginPath(); D.within.forEach(trace); ctx.strokeStyle = '#9b1d6a'; ctx.lineWidth = 1.5; ctx.stroke();
  for (const [i, w] of [[state.chosen, 5], [state.at, 3]]) {
    if (i < 0) continue;
    traceCell(i); ctx.strokeStyle = '#fff'; ctx.lineWidth = w + 2; ctx.stroke();
    ctx.strokeStyle = '#9b1d6a'; ctx.lineWidth = w; ctx.stroke();
  }
}
function cellAt(x, y) {
  const lon = toLon(x) * 1000, lat = toLat(y) * 1000;
  let best = -1, near = 14;
  for (let i = 0; i < D.places; i++) {
    const b = D.bounds[i];
    if (isPoint(i)) {
      const d = Math.hypot(toX(b[0] / 1000) - x, toY(b[1] / 1000) - y);
      if (d < near) { near = d; best = i; }
    } else if (lon >= b[0] && lon < b[2] && lat >= b[1] && lat < b[3]) {
      if (!D.rings[i]) { if (best < 0) best = i; continue; }
      traceCell(i);
      const dense = window.devicePixelRatio || 1;
      if (ctx.isPointInPath(x * dense, y * dense)) best = i;
    }
  }
  return best;
}

// ---- Words and figures

function rows(list) {
  const t = document.createElement('table'), body = t.createTBody();
  for (const [key, value] of list) {
    const r = body.insertRow(), th = document.createElement('th');
    th.scope = 'row'; th.textContent = key; r.append(th); r.insertCell().textContent = value;
  }
  return t;
}
function heading(tag, text) { const h = document.createElement(tag); h.textContent = text; return h; }
const unit = () => D.currency + '/kWh';
function design(k) {
  const [tilt, length] = D.designs[k];
  return length > 0 ? 'mirror ' + +tilt.toFixed(1) + '° from the horizontal, ' + +length.toFixed(2) + ' m long' : 'no mirror';
}
const counted = i => D.counts[i] > 1 ? ', mean of ' + D.counts[i] + ' cells' : '';
const sided = (deg, above, below) => Math.abs(deg).toFixed(2) + '° ' + (deg < 0 ? below : above);
// A ratio that rounds to gas parity from below still beats gas.
function ratio(i) {
  const text = show('ratio', i);
  return +text === 1 && D.classes[column('class')[i]].beats ? 'just under ' + text : text;
}
function figures(i) {
  const [lon, lat] = middle(i);
  const list = [['Place', sided(lat, 'N', 'S') + ', ' + sided((lon + 540) % 360 - 180, 'E', 'W') + counted(i)]];
  if (!hasHeat(i)) {
    const r = column('without')[i];
    return list.concat([['Heat', 'none' + (r >= 0 ? ': ' + D.reasons[r] : '')], ['Heat from gas', show('gas', i) + ' ' + unit()]]);
  }
  const k = column('design')[i];
  return list.concat([
    ['LCOH', show('lcoh', i) + ' ' + unit()], ['P10–P90', known('p10', i) ? show('p10', i) + '–' + show('p90', i) + ' ' + unit() : 'not worked out'],
    ['Heat from gas', show('gas', i) + ' ' + unit()], ['LCOH ÷ gas', ratio(i)],
    ['Probability of beating gas', known('sure', i) ? show('sure', i) + ' %' : 'not worked out'],
    ['Best tilt and mirror', k < 0 ? 'none' : design(k)], ['Heat for this use', show('heat', i) + ' kWh/m² of receiver']]);
}
function hover() {
  if (state.at < 0) { $('hover').textContent = 'Point at a cell, or focus the map and press an arrow key.'; return; }
  $('hover').replaceChildren(heading('strong', name(state.at)), rows(figures(state.at)));
}
function chart(i) {
  const NS = 'http://www.w3.org/2000/svg', svg = document.createElementNS(NS, 'svg');
  svg.setAttribute('viewBox', '0 0 312 120'); svg.setAttribute('aria-hidden', 'true');
  const values = MONTHS.map((_, m) => Math.max(0, column('month' + m)[i])), top = Math.max(1, ...values);
  const add = (tag, at, text) => {
    const e = document.createElementNS(NS, tag);
    for (const key in at) e.setAttribute(key, at[key]);
    if (text !== undefined) e.textContent = text;
    svg.append(e);
  };
  values.forEach((v, m) => {
    const h = 80 * v / top;
    add('rect', { x: m * 26 + 3, y: 100 - h, width: 20, height: h, fill: '#1c4c8f' });
    add('text', { x: m * 26 + 13, y: 96 - h, 'text-anchor': 'middle', 'font-size': 9 }, v);
    add('text', { x: m * 26 + 13, y: 113, 'text-anchor': 'middle', 'font-size': 9 }, MONTHS[m]);
  });
  return svg;
}
function detail() {
  const i = state.chosen, box = $('detail');
  box.replaceChildren();
  if (i < 0) return;
  box.append(heading('h2', name(i)));
  if (!hasHeat(i)) { box.append(rows(figures(i))); return; }
  box.append(rows(figures(i)));
  box.append(heading('h3', 'Heat of each month, kWh/m² of receiver'), chart(i));
  const table = document.createElement('details');
  table.append(heading('summary', 'Months as a table'), rows(MONTHS.map((m, k) => [m, show('month' + k, i)])));
  box.append(table, heading('h3', 'Money and carbon, against gas'));
  const r = column('runner')[i];
  box.append(rows([
    ['Saving', show('saving', i) + ' ' + D.currency + '/m² a year'], ['Payback', known('payback', i) ? show('payback', i) + ' years' : 'not within the horizon'],
    ['CO₂ saved', show('co2', i) + ' kg/m² a year'],
    ['Runner-up', r < 0 ? 'none' : design(r) + ', ' + show('second', i) + ' ' + unit()]]));
  box.append(heading('h3', 'What the cost is made of, ' + unit()),
    rows(SPLIT.map((s, k) => ['Per ' + s, k]).filter(([, k]) => known('split' + k, i)).map(([s, k]) => [s, show('split' + k, i)])));
}
function legend() {
  const box = $('legend'), gas = column('gas'), seen = [...gas].filter(v => v !== NONE);
  box.replaceChildren();
  const l = D.layers[state.layer];
  const title = heading('p', 'LCOH ÷ cost of heat from gas (no unit): ' + l.use + ', ' + l.outlet + ' °C');
  box.append(title);
  const key = (label, colour) => {
    const s = document.createElement('span'), c = document.createElement('i');
    s.className = 'key';
    if (colour) c.style.background = colour; else c.className = 'none';
    s.append(c, label); box.append(s);
  };
  D.classes.forEach((c, k) => {
    if (!c.beats && (k === 0 || D.classes[k - 1].beats)) box.append(heading('b', 'gas parity: ' + c.from));
    key(c.to === null ? c.from + ' and more' : c.from + '–' + c.to, c.colour);
  });
  key('no heat', '');
  if (seen.length) {
    const digits = D.digits[state.layer][D.columns.indexOf('gas')], f = v => (v / 10 ** digits).toFixed(digits);
    const low = seen.reduce((a, b) => Math.min(a, b)), high = seen.reduce((a, b) => Math.max(a, b));
    box.append(heading('p', 'Heat from gas costs ' + (low === high ? f(low) : f(low) + ' to ' + f(high)) + ' ' + unit() + ' here.'));
  }
}
function count() {
  let n = 0;
  for (let i = 0; i < D.places; i++) if (passes(i)) n++;
  $('count').textContent = n + ' of ' + D.places + (D.merged ? ' squares' : ' sites') + (state.p ? ' pass' : ' have heat');
}

let order = 'cost';
function table() {
  if (!$('list').open) return;
  const all = [];
  for (let i = 0; i < D.places; i++) if (inView(i) && passes(i)) all.push(i);
  const key = order === 'cost' ? i => column('lcoh')[i] : i => -column('sure')[i];
  all.sort((a, b) => key(a) - key(b) || a - b);
  const shown = all.slice(0, 200), t = document.createElement('table'), head = t.createTHead().insertRow();
  t.createCaption().textContent = all.length + ' cells in view pass' + (all.length > shown.length ? '; the first ' + shown.length : '');
  for (const [label, by] of [['Cell', ''], ['LCOH, ' + unit(), 'cost'], ['LCOH ÷ gas', ''], ['Beats gas, %', 'sure'], ['Tilt, mirror', '']]) {
    const th = document.createElement('th');
    th.scope = 'col';
    if (by) {
      const b = heading('button', label);
      b.type = 'button'; b.onclick = () => { order = by; table(); $('table').querySelector('[aria-sort] button').focus(); };
      if (by === order) th.setAttribute('aria-sort', by === 'cost' ? 'ascending' : 'descending');
      th.append(b);
    } else th.textContent = label;
    head.append(th);
  }
  const body = t.createTBody();
  for (const i of shown) {
    const r = body.insertRow(), b = heading('button', name(i));
    b.type = 'button'; b.onclick = () => choose(i);
    r.insertCell().append(b);
    const k = column('design')[i];
    for (const text of [show('lcoh', i), ratio(i), show('sure', i), k < 0 ? 'none' : design(k)]) r.insertCell().textContent = text;
  }
  $('table').replaceChildren(t);
}

// ---- Moves

let waiting = 0;
function moved() {
  draw();
  clearTimeout(waiting);
  waiting = setTimeout(() => { remember(false); table(); }, 250);
}
function choose(i) {
  state.chosen = state.at = i;
  remember(true); draw(); hover(); detail();
}
function refresh() {
  const l = D.layers[state.layer];
  $('use').value = l.use; $('outlet').value = l.outlet; $('p').value = $('pn').value = state.p;
  draw(); legend(); count(); hover(); detail(); table();
}
function zoomBy(f, x = width / 2, y = height / 2) {
  const lon = toLon(x), lat = toLat(y);
  state.zoom = Math.min(500, Math.max(0.2, state.zoom * f));
  state.lon += lon - toLon(x); state.lat += lat - toLat(y);
  state.lat = Math.min(90, Math.max(-90, state.lat));
  moved();
}
function pan(dx, dy) {
  state.lon = Math.min(360, Math.max(-360, state.lon - dx / squeeze / perDegree()));
  state.lat = Math.min(90, Math.max(-90, state.lat + dy / perDegree()));
  moved();
}
function fit() { Object.assign(state, home, { zoom: 1 }); moved(); }
// step goes to the nearest cell within 45° of a direction.
function step(dx, dy) {
  if (!D.places) return;
  const from = state.at < 0 ? [state.lon, state.lat] : middle(state.at);
  let best = -1, least = Infinity;
  for (let i = 0; i < D.places; i++) {
    if (i === state.at) continue;
    const m = middle(i), x = (m[0] - from[0]) * squeeze, y = m[1] - from[1];
    const along = x * dx + y * dy, aside = Math.abs(x * dy - y * dx);
    if (state.at >= 0 && (along <= 0 || aside > along)) continue;
    const d = state.at < 0 ? Math.hypot(x, y) : along + 2 * aside;
    if (d < least) { least = d; best = i; }
  }
  if (best < 0) return;
  state.at = best;
  const x = toX(middle(best)[0]), y = toY(middle(best)[1]);
  if (x < 20 || x > width - 20 || y < 20 || y > height - 20) pan(width / 2 - x, height / 2 - y);
  draw(); hover();
}
const ARROWS = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, 1], ArrowDown: [0, -1] };
canvas.addEventListener('keydown', e => {
  const a = ARROWS[e.key];
  if (e.ctrlKey || e.altKey || e.metaKey) return;
  if (a && e.shiftKey) pan(-a[0] * 60, a[1] * 60);
  else if (a) step(a[0], a[1]);
  else if (e.key === '+' || e.key === '=') zoomBy(1.5);
  else if (e.key === '-') zoomBy(1 / 1.5);
  else if (e.key === '0') fit();
  else if (e.key === 'Enter' && state.at >= 0) { choose(state.at); $('detail').focus(); }
  else return;
  e.preventDefault();
});
const fingers = new Map();
let travelled = 0;
canvas.addEventListener('pointerdown', e => {
  if (!fingers.size) travelled = 0;
  fingers.set(e.pointerId, [e.offsetX, e.offsetY]); canvas.setPointerCapture(e.pointerId);
});
canvas.addEventListener('pointermove', e => {
  const was = fingers.get(e.pointerId), now = [e.offsetX, e.offsetY];
  if (!was) {
    const i = cellAt(...now);
    if (i !== state.at) { state.at = i; draw(); hover(); }
    return;
  }
  const dx = now[0] - was[0], dy = now[1] - was[1];
  travelled += Math.hypot(dx, dy);
  if (fingers.size === 2) {
    const other = [...fingers].find(([id]) => id !== e.pointerId)[1];
    const gap = p => Math.max(10, Math.hypot(p[0] - other[0], p[1] - other[1]));
    zoomBy(gap(now) / gap(was), (now[0] + other[0]) / 2, (now[1] + other[1]) / 2);
    pan(dx / 2, dy / 2);
  } else if (travelled > 5) pan(dx, dy);
  fingers.set(e.pointerId, now);
});
canvas.addEventListener('pointerup', e => {
  if (fingers.size === 1 && travelled <= 5) { const i = cellAt(e.offsetX, e.offsetY); if (i >= 0) choose(i); }
  fingers.delete(e.pointerId);
});
canvas.addEventListener('pointercancel', e => fingers.delete(e.pointerId));
canvas.addEventListener('wheel', e => { e.preventDefault(); zoomBy(Math.exp(-e.deltaY / 400), e.offsetX, e.offsetY); }, { passive: false });
$('in').onclick = () => zoomBy(1.5);
$('out').onclick = () => zoomBy(1 / 1.5);
$('all').onclick = fit;
function pick() {
  const l = layerOf($('use').value, parseFloat($('outlet').value));
  if (l >= 0) state.layer = l;
  remember(true); refresh();
}
$('use').onchange = $('outlet').onchange = pick;
function filter(e) {
  const v = Math.round(parseFloat(e.target.value));
  if (!(v >= 0 && v <= 100)) return;
  state.p = v;
  $('p').value = $('pn').value = v;
  draw(); count(); table();
}
$('p').oninput = $('pn').oninput = filter;
$('p').onchange = $('pn').onchange = () => remember(true);
$('controls').onsubmit = e => e.preventDefault();
$('list').ontoggle = table;
addEventListener('resize', moved);
addEventListener('popstate', () => { restore(); refresh(); });

for (const u of new Set(D.layers.map(l => l.use))) $('use').add(new Option(u, u));
for (const o of new Set(D.layers.map(l => l.outlet))) $('outlet').add(new Option(o + ' °C', o));
if (D.merged) $('merged').textContent = 'Each square is the mean of up to ' + Math.max(...new Set(D.counts)) + ' cells, ' + D.of + ' in all, with the tilt most of them have; the probability is their mean, too. The tiles and GeoJSON hold every cell.';
if (!D.layers.length) { trouble('There is nothing to show.'); return; }
draw(); restore(); refresh();
document.body.dataset.ready = 'yes';
})();

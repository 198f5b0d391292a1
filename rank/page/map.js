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

const dense = () => window.devicePixelRatio || 1;
const snap = v => Math.round(v * dense()) / dense();
function trace(ring) {
  for (let i = 0; i < ring.length; i += 2) ctx[i ? 'lineTo' : 'moveTo'](toX(ring[i] / 1000), toY(ring[i + 1] / 1000));
  ctx.closePath();
}
// coast leaves out an outline's way along the antimeridian, where it is only cut.
function coast(ring) {
  const cut = i => (ring[i] / 1000 + 540) % 360 === 0;
  for (let i = 0; i < ring.length; i += 2)
    ctx[i && !(cut(i) && cut(i - 2)) ? 'lineTo' : 'moveTo'](toX(ring[i] / 1000), toY(ring[i + 1] / 1000));
}
const isPoint = i => D.bounds[i][0] === D.bounds[i][2] && D.bounds[i][1] === D.bounds[i][3];
// box is where a cell lies on the canvas, to whole pixels, so that neighbours meet.
function box(i) {
  const b = D.bounds[i];
  return [snap(toX(b[0] / 1000)), snap(toY(b[3] / 1000)), snap(toX(b[2] / 1000)), snap(toY(b[1] / 1000))];
}
// Cells too small to see are drawn larger where they have few neighbours to hide.
const LEAST = 5, crowd = new Map();
let crowdFor = '';
const slot = (i, dx, dy) => { const m = middle(i), k = perDegree() / LEAST; return (Math.floor(m[0] * squeeze * k) + dx) * 1e6 + Math.floor(m[1] * k) + dy; };
function gather() {
  const now = perDegree() + '';
  if (now === crowdFor) return;
  crowdFor = now; crowd.clear();
  for (let i = 0; i < D.places; i++) {
    const b = D.bounds[i], k = slot(i, 0, 0);
    crowd.set(k, (crowd.get(k) || 0) + (b[2] - b[0]) * (b[3] - b[1]) / 1e6 * squeeze * perDegree() ** 2);
  }
}
const extent = i => Math.max((D.bounds[i][2] - D.bounds[i][0]) * squeeze, D.bounds[i][3] - D.bounds[i][1]) / 1000;
const widest = D.bounds.reduce((w, _, i) => Math.max(w, extent(i)), 0);
function tiny(i) {
  // What a border leaves of a cell is seen where the cell would be.
  if (isPoint(i) || (D.rings[i] ? widest : extent(i)) * perDegree() >= LEAST) return false;
  let area = 0;
  for (let dx = -1; dx < 2; dx++) for (let dy = -1; dy < 2; dy++) area += crowd.get(slot(i, dx, dy)) || 0;
  return area < 0.08 * 9 * LEAST ** 2;
}
function traceCell(i) {
  ctx.beginPath();
  const b = D.bounds[i];
  if (isPoint(i)) ctx.arc(toX(b[0] / 1000), toY(b[1] / 1000), 7, 0, 7);
  else if (tiny(i)) { const m = middle(i); ctx.rect(snap(toX(m[0]) - LEAST / 2), snap(toY(m[1]) - LEAST / 2), LEAST, LEAST); }
  else if (D.rings[i]) D.rings[i].forEach(trace);
  else { const [x1, y1, x2, y2] = box(i); ctx.rect(x1, y1, x2 - x1, y2 - y1); }
}
function hatching(ground, ink, ...line) {
  const t = document.createElement('canvas');
  t.width = t.height = 6;
  const c = t.getContext('2d');
  c.fillStyle = ground; c.fillRect(0, 0, 6, 6);
  c.strokeStyle = ink; c.beginPath(); c.moveTo(line[0], line[1]); c.lineTo(line[2], line[3]); c.stroke();
  return ctx.createPattern(t, 'repeat');
}
const without = hatching('#d9d9d9', '#777', 0, 6, 6, 0), missed = hatching('#e2e2e2', '#a0a0a0', 0, 3.5, 6, 3.5);
const dark = colour => [1, 3, 5].reduce((sum, at, k) => sum + [0.299, 0.587, 0.114][k] * parseInt(colour.slice(at, at + 2), 16), 0) < 128;
// dots mark where it is not sure which is cheaper, thinned so that they never touch.
function dots() {
  const apart = 9, taken = new Set();
  for (let i = 0; i < D.places; i++) {
    const k = column('class')[i];
    if (k < 0 || !unsure(i) || !passes(i) || !inView(i)) continue;
    const [lon, lat] = middle(i), x = toX(lon), y = toY(lat), at = Math.floor(x / apart) + ' ' + Math.floor(y / apart);
    if (taken.has(at)) continue;
    taken.add(at);
    ctx.beginPath(); ctx.arc(x, y, 1.5, 0, 7);
    ctx.fillStyle = dark(D.classes[k].colour) ? '#fff' : '#262626'; ctx.fill();
  }
}
function inView(i) {
  const b = D.bounds[i], m = 8;
  return toX(b[2] / 1000) >= -m && toX(b[0] / 1000) <= width + m && toY(b[1] / 1000) >= -m && toY(b[3] / 1000) <= height + m;
}
// grid draws meridians and parallels; their degrees are written on top of all.
function grid(labels) {
  const step = rough => [0.01, 0.02, 0.05, 0.1, 0.2, 0.5, 1, 2, 5, 10, 15, 30, 45].find(s => s >= rough) || 60;
  const lon = step(90 / squeeze / perDegree()), lat = step(70 / perDegree());
  const say = (text, x, y) => {
    ctx.lineWidth = 3; ctx.strokeStyle = '#fff'; ctx.strokeText(text, x, y);
    ctx.fillStyle = '#333'; ctx.fillText(text, x, y);
  };
  ctx.font = '12px system-ui, sans-serif'; ctx.lineJoin = 'round';
  ctx.lineWidth = 1; ctx.strokeStyle = 'rgba(110,115,120,.4)';
  for (let k = Math.ceil(toLon(0) / lon); k * lon <= toLon(width); k++) {
    const x = snap(toX(k * lon));
    if (!labels) { ctx.beginPath(); ctx.moveTo(x, 0); ctx.lineTo(x, height); ctx.stroke(); }
    else if (x > 55 && x < width - 20) { ctx.textAlign = 'center'; say(side((k * lon % 360 + 540) % 360 - 180, 'E', 'W'), x, height - 6); }
  }
  for (let k = Math.ceil(Math.max(-90, toLat(height)) / lat); k * lat <= Math.min(90, toLat(0)); k++) {
    const y = snap(toY(k * lat));
    if (!labels) { ctx.beginPath(); ctx.moveTo(0, y); ctx.lineTo(width, y); ctx.stroke(); }
    else if (y > 14 && y < height - 20) { ctx.textAlign = 'left'; say(side(k * lat, 'N', 'S'), 5, y + 4); }
  }
}
const side = (deg, above, below) => {
  const v = +Math.abs(deg).toFixed(2);
  return v + '°' + (v === 0 || v === 180 ? '' : ' ' + (deg < 0 ? below : above));
};
function draw() {
  width = canvas.clientWidth; height = canvas.clientHeight;
  const w = Math.round(width * dense()), h = Math.round(height * dense());
  if (canvas.width !== w || canvas.height !== h) { canvas.width = w; canvas.height = h; }
  ctx.setTransform(dense(), 0, 0, dense(), 0, 0);
  gather();
  ctx.fillStyle = '#eef1f2'; ctx.fillRect(0, 0, width, height);
  ctx.beginPath(); D.outline.forEach(trace); ctx.fillStyle = '#fbfbf9'; ctx.fill('evenodd');
  for (let i = 0; i < D.places; i++) {
    if (!inView(i)) continue;
    const k = column('class')[i];
    traceCell(i);
    ctx.fillStyle = k < 0 ? without : passes(i) ? D.classes[k].colour : missed;
    ctx.fill();
    ctx.strokeStyle = ctx.fillStyle; ctx.lineWidth = 0.7;
    if (isPoint(i) || tiny(i)) { ctx.strokeStyle = '#1d1d1d'; ctx.lineWidth = 1; ctx.stroke(); }
    else if (D.rings[i]) ctx.stroke();
  }
  grid(false); dots();
  const thin = perDegree() < 4 ? 0.6 : 1;
  ctx.beginPath(); D.outline.forEach(coast);
  for (const [colour, thick] of [['rgba(255,255,255,.6)', 2 * thin], ['#4a4a4a', thin]]) { ctx.strokeStyle = colour; ctx.lineWidth = thick; ctx.stroke(); }
  ctx.beginPath(); D.within.forEach(coast); ctx.strokeStyle = '#9b1d6a'; ctx.lineWidth = 1.5; ctx.stroke();
  for (const [i, thick] of [[state.chosen, 5], [state.at, 3]]) {
    if (i < 0) continue;
    traceCell(i); ctx.strokeStyle = '#fff'; ctx.lineWidth = thick + 2; ctx.stroke();
    ctx.strokeStyle = '#9b1d6a'; ctx.lineWidth = thick; ctx.stroke();
  }
  grid(true);
}
function cellAt(x, y) {
  const lon = toLon(x) * 1000, lat = toLat(y) * 1000;
  let best = -1, near = 14;
  for (let i = 0; i < D.places; i++) {
    const b = D.bounds[i];
    if (isPoint(i) || tiny(i)) {
      const m = middle(i), d = Math.hypot(toX(m[0]) - x, toY(m[1]) - y);
      if (d < near) { near = d; best = i; }
    } else if (lon >= b[0] && lon < b[2] && lat >= b[1] && lat < b[3]) {
      if (!D.rings[i]) { if (best < 0) best = i; continue; }
      traceCell(i);
      if (ctx.isPointInPath(x * dense(), y * dense())) best = i;
    }
  }
  return best;
}

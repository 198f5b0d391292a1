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
  draw(); legend(); count(); tilts(); hover(); detail(); table();
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
  draw(); count(); legend(); table();
}
$('p').oninput = $('pn').oninput = filter;
$('p').onchange = $('pn').onchange = () => remember(true);
$('controls').onsubmit = e => e.preventDefault();
$('list').ontoggle = table;
$('brief').querySelector('button').onclick = () => { $('detail').focus(); $('detail').scrollIntoView(); };
addEventListener('resize', moved);
addEventListener('popstate', () => { restore(); refresh(); });

for (const [u, when] of new Map(D.layers.map(l => [l.use, l.when]))) $('use').add(new Option(when ? u + ' (' + when + ')' : u, u));
for (const o of new Set(D.layers.map(l => l.outlet))) $('outlet').add(new Option(o + ' °C', o));
if (D.merged) $('merged').textContent = 'Each square is the mean of up to ' + Math.max(...new Set(D.counts)) + ' cells, ' + D.of + ' in all, with the tilt most of them have; the probability is their mean, too. The tiles and GeoJSON hold every cell.';
if (!D.layers.length) { trouble('There is nothing to show.'); return; }
draw(); restore(); refresh();
document.body.dataset.ready = 'yes';

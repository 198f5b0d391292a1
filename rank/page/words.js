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
  return length > 0 ? 'mirror ' + +tilt.toFixed(1) + '°, ' + +length.toFixed(2) + ' m long' : 'no mirror';
}
const counted = i => D.counts[i] > 1 ? ', mean of ' + D.counts[i] + ' cells' : '';
const sided = (deg, above, below) => Math.abs(deg).toFixed(2) + '° ' + (deg < 0 ? below : above);
// A ratio that rounds to gas parity from below still beats gas.
function ratio(i) {
  const text = show('ratio', i);
  return +text === 1 && D.classes[column('class')[i]].beats ? 'just under ' + text : text;
}
const TILT = 'tilt from the ground behind it, 90° is upright';
function figures(i) {
  const [lon, lat] = middle(i);
  const list = [['Place', sided(lat, 'N', 'S') + ', ' + sided((lon + 540) % 360 - 180, 'E', 'W') + counted(i)]];
  if (!hasHeat(i)) {
    const r = column('without')[i];
    return list.concat([['Usable heat', 'none' + (r >= 0 ? ': ' + D.reasons[r] : '')], ['Heat from gas', show('gas', i) + ' ' + unit()]]);
  }
  const k = column('design')[i];
  return list.concat([
    ['LCOH', show('lcoh', i) + ' ' + unit()], ['P10–P90', known('p10', i) ? show('p10', i) + '–' + show('p90', i) + ' ' + unit() : 'not worked out'],
    ['Heat from gas', show('gas', i) + ' ' + unit()], ['LCOH ÷ gas', ratio(i)],
    ['Probability of beating gas', known('sure', i) ? show('sure', i) + ' %' : 'not worked out'],
    ['Best tilt and mirror', k < 0 ? 'none' : design(k) + (D.designs[k][1] > 0 ? ' (' + TILT + ')' : '')], ['Heat for this use', show('heat', i) + ' kWh/m² of receiver']]);
}
function hover() {
  if (state.at < 0) { $('hover').textContent = 'Point at a cell, or focus the map and press an arrow key.'; return; }
  if (state.at === state.chosen) { $('hover').textContent = name(state.at) + ': the chosen cell, below.'; return; }
  $('hover').replaceChildren(heading('strong', name(state.at)), rows(figures(state.at)));
}
// counts are the months that count for the use at a cell; null where each has
// its own, which the data lack.
function counts(i) {
  const north = D.layers[state.layer].months, shift = middle(i)[1] < 0 ? 6 : 0;
  return north ? MONTHS.map((_, m) => north[(m + shift) % 12]) : null;
}
function chart(i, on) {
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
    add('rect', { x: m * 26 + 3, y: 100 - h, width: 20, height: h, fill: on && !on[m] ? '#b9bdc1' : '#1a4588' });
    add('text', { x: m * 26 + 13, y: 96 - h, 'text-anchor': 'middle', 'font-size': 9 }, v);
    add('text', { x: m * 26 + 13, y: 113, 'text-anchor': 'middle', 'font-size': 9 }, MONTHS[m]);
  });
  return svg;
}
// brief says the most of the chosen cell on the map itself, where the screen is
// too narrow for its figures beside the map.
function brief() {
  const i = state.chosen;
  $('brief').hidden = i < 0;
  if (i < 0) return;
  const d = D.designs[column('design')[i]];
  $('brief').firstChild.textContent = figures(i)[0][1] + ': ' + (!hasHeat(i) ? 'no usable heat' : show('lcoh', i) + ' ' + unit() + ', ' + ratio(i) + ' × gas' +
    (known('sure', i) ? ', probability ' + show('sure', i) + ' %' : '') + (d && d[1] > 0 ? ', tilt ' + +d[0].toFixed(1) + '°' : ', no mirror'));
}
function detail() {
  const i = state.chosen, box = $('detail');
  box.replaceChildren();
  brief();
  if (i < 0) return;
  box.append(heading('h2', name(i)));
  if (!hasHeat(i)) { box.append(rows(figures(i))); return; }
  box.append(rows(figures(i)));
  const on = counts(i), l = D.layers[state.layer];
  box.append(heading('h3', 'Heat of each month, kWh/m² of receiver'), chart(i, on));
  if (!on) box.append(heading('p', 'Only ' + (l.when || 'the months of the use') + ' count for ' + l.use + ': others bring no benefit.'));
  else if (on.includes(false)) box.append(heading('p', 'Blue: counts for ' + l.use + '. Grey: out of season, brings no benefit.'));
  const table = document.createElement('details');
  table.append(heading('summary', 'Months as a table'), rows(MONTHS.map((m, k) => [m, show('month' + k, i) + (on && !on[k] ? ' (does not count)' : '')])));
  box.append(table, heading('h3', 'Money and carbon, against gas'));
  const r = column('runner')[i];
  box.append(rows([
    ['Saving', show('saving', i) + ' ' + D.currency + '/m² a year'], ['Payback', known('payback', i) ? show('payback', i) + ' years' : 'not within the horizon'],
    ['CO₂ saved', show('co2', i) + ' kg/m² a year'],
    ['Runner-up', r < 0 ? 'none' : design(r) + ', ' + show('second', i) + ' ' + unit()]]));
  box.append(heading('h3', 'What the cost is made of, ' + unit()),
    rows(SPLIT.map((s, k) => [s, 'split' + k]).filter(([, c]) => known(c, i) && column(c)[i] !== 0).map(([s, c]) => [s, show(c, i)])));
}
function legend() {
  const box = $('legend'), gas = column('gas'), seen = [...gas].filter(v => v !== NONE);
  box.replaceChildren();
  const l = D.layers[state.layer];
  const key = (label, kind, ...colours) => {
    const s = document.createElement('span');
    s.className = 'key'; s.append(label); box.append(s);
    for (const colour of colours.length ? colours.reverse() : ['']) {
      const c = document.createElement('i');
      if (colour) c.style.backgroundColor = colour;
      c.className = kind + (kind === 'dot' && dark(colour) ? ' dark' : ''); s.prepend(c);
    }
  };
  const digits = D.digits[state.layer][D.columns.indexOf('gas')], f = v => (v / 10 ** digits).toFixed(digits);
  const low = seen.reduce((a, b) => Math.min(a, b), Infinity), high = seen.reduce((a, b) => Math.max(a, b), -Infinity);
  const one = low === high, at = c => (c * low / 10 ** digits).toFixed(3), parity = D.classes.findIndex(c => !c.beats);
  box.append(heading('p', 'LCOH ÷ heat from gas' + (one ? ' (' + unit() + ')' : '') + ': ' + l.use + ', ' + l.outlet + ' °C'));
  D.classes.forEach((c, k) => {
    if (k === parity) box.append(heading('b', 'gas parity: ' + c.from + (one ? ' = ' + f(low) + ' ' + unit() : '')));
    const [text, cost] = c.from === 0 ? ['under ' + c.to, 'under ' + at(c.to)] : c.to === null ? [c.from + ' and more', 'from ' + at(c.from)] :
      [c.from + ' to ' + c.to, at(c.from) + ' to ' + at(c.to)];
    key(text + (one ? ' (' + cost + ')' : ''), '', c.colour);
  });
  key('no usable heat', 'none');
  if (column('sure').some(v => v !== NONE))
    key('not sure which is cheaper: probability between ' + UNSURE[0] + ' and ' + UNSURE[1] + ' %', 'dot', D.classes[parity].colour, D.classes[parity - 2].colour);
  if (state.p) key('misses the probability of ' + state.p + ' % asked for', 'missed');
  box.append(heading('p', 'Heat from gas: running cost of a boiler alone.'));
  if (!one && seen.length) box.append(heading('p', 'Heat from gas costs ' + f(low) + ' to ' + f(high) + ' ' + unit() + ' here, by place.'));
}
// count says in a sentence where heat is cheaper than gas.
function count() {
  let beats = 0, sure = 0, none = 0;
  for (let i = 0; i < D.places; i++) {
    const k = column('class')[i];
    if (k < 0) none++; else if (D.classes[k].beats) beats++;
    if (passes(i)) sure++;
  }
  const what = D.merged ? 'quares' : 'ites';
  $('count').textContent = 'By best estimate cheaper than gas at ' + beats + ' of ' + D.places + ' s' + what + '.' +
    (state.p ? ' S' + what + ' with a probability of at least ' + state.p + ' %: ' + sure + '.' : '') + (none ? ' S' + what + ' without usable heat: ' + none + '.' : '');
}
// strip names a band of latitude.
const strip = (low, high) => low >= 0 ? low + '–' + side(high, 'N', 'S') : high <= 0 ? -high + '–' + side(low, 'N', 'S') : side(low, 'N', 'S') + ' – ' + side(high, 'N', 'S');
// tilts says which tilt suits which latitude.
function tilts() {
  let low = 90, high = -90;
  for (let i = 0; i < D.places; i++) { const lat = middle(i)[1]; low = Math.min(low, lat); high = Math.max(high, lat); }
  const size = [1, 2, 5, 10].find(s => (high - low) / s <= 14) || 15, bands = new Map();
  for (let i = 0; i < D.places; i++) {
    if (!hasHeat(i)) continue;
    const k = Math.floor(middle(i)[1] / size), b = bands.get(k) || { all: 0, beats: 0, tilts: [] };
    bands.set(k, b);
    b.all++;
    if (D.classes[column('class')[i]].beats) b.beats++;
    const d = D.designs[column('design')[i]];
    if (d && d[1] > 0) b.tilts.push(d[0]);
  }
  const t = document.createElement('table'), head = t.createTHead().insertRow(), body = t.createTBody();
  const l = D.layers[state.layer];
  t.createCaption().textContent = l.use + ', ' + l.outlet + ' °C: tilt of the mirror from the ground behind it; 90° is upright, less leans back, more overhangs the receiver';
  for (const label of ['Latitude', D.merged ? 'Squares' : 'Sites', 'Beat gas', 'Median tilt', 'Eight of ten', 'Best without mirror']) {
    const th = heading('th', label); th.scope = 'col'; head.append(th);
  }
  for (const k of [...bands.keys()].sort((a, b) => b - a)) {
    const b = bands.get(k), r = body.insertRow(), th = document.createElement('th');
    b.tilts.sort((x, y) => x - y);
    const at = share => +b.tilts[Math.round(share * (b.tilts.length - 1))].toFixed(1) + '°', some = b.tilts.length > 0;
    th.scope = 'row'; th.textContent = strip(k * size, (k + 1) * size); r.append(th);
    for (const text of [b.all, b.beats, some ? at(.5) : 'none', some ? (at(.1) === at(.9) ? at(.5) : at(.1).replace('°', '–') + at(.9)) : '', b.all - b.tilts.length]) r.insertCell().textContent = text;
  }
  $('tilts').replaceChildren(t);
}

let order = 'cost', most = 200;
function table() {
  if (!$('list').open) return;
  const all = [];
  for (let i = 0; i < D.places; i++) if (inView(i) && passes(i)) all.push(i);
  const key = order === 'cost' ? i => column('lcoh')[i] : i => -column('sure')[i];
  all.sort((a, b) => key(a) - key(b) || a - b);
  const shown = all.slice(0, most), t = document.createElement('table'), head = t.createTHead().insertRow();
  t.createCaption().textContent = 'Cells in view ' + (state.p ? 'that beat gas with a probability of at least ' + state.p + ' %' : 'with usable heat') +
    ': ' + all.length + (all.length > shown.length ? ', the first ' + shown.length + ' shown' : '') + '. Tilts are from the ground behind the mirror; 90° is upright.';
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
  if (all.length <= shown.length) return;
  const more = heading('button', 'Show all ' + all.length);
  more.type = 'button'; more.onclick = () => { most = Infinity; table(); $('table').querySelector('tbody tr:nth-child(201) button').focus(); };
  $('table').append(more);
}

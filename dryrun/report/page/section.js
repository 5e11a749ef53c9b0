// The section S-S: a cut through the blank along a line, hatched as material is on a drawing.

class Section {
  constructor(model) {
    this.model = model;
    const { blank, final } = model;
    // At first along X through the deepest place.
    let deepest = 0;
    for (let i = 1; i < final.heights.length; i++) if (final.heights[i] < final.heights[deepest]) deepest = i;
    const y = blank.low[1] + (Math.floor(deepest / final.nx) + 0.5) * final.cell;
    this.ends = { a: [blank.low[0], y], b: [blank.high[0], y] };
    this.fields = { a: ['cut-x1', 'cut-y1'], b: ['cut-x2', 'cut-y2'] };
    this.unit = model.units === 'in' ? 25.4 : 1;
    for (const [end, ids] of Object.entries(this.fields)) {
      ids.forEach((id, axis) => byId(id).addEventListener('change', () => {
        const value = byId(id).valueAsNumber;
        if (Number.isFinite(value)) { this.ends[end][axis] = value * this.unit; this.changed(); }
      }));
    }
    model.listen(() => this.draw());
    new ResizeObserver(() => { if (byId('section').clientWidth !== this.drawnWidth) this.draw(); }).observe(byId('section'));
  }

  moveEnd(end, place) {
    const { low, high } = this.model.blank;
    this.ends[end] = place.map((v, i) => Math.min(Math.max(v, low[i]), high[i]));
    this.changed();
  }

  changed() {
    this.draw();
    top_.drawOverlay();
  }

  // Heights along the line: every cell is met, at most 1500 places.
  samples() {
    const { a, b } = this.ends;
    const length = Math.hypot(b[0] - a[0], b[1] - a[1]);
    const { field } = this.model;
    const count = Math.min(1500, Math.max(2, Math.ceil(length / field.cell * 1.5)));
    const found = [];
    for (let i = 0; i <= count; i++) {
      const part = i / count;
      const z = field.height(a[0] + part * (b[0] - a[0]), a[1] + part * (b[1] - a[1]));
      found.push([part * length, z]);
    }
    return { length, found };
  }

  draw() {
    this.drawnWidth = byId('section').clientWidth;
    for (const [end, ids] of Object.entries(this.fields)) {
      ids.forEach((id, axis) => { byId(id).value = +(this.ends[end][axis] / this.unit).toFixed(3); });
    }
    const { blank, units } = this.model;
    const { length, found } = this.samples();
    const wide = Math.min(900, Math.max(300, byId('section').clientWidth || 640));
    const left = 74, right = 16, high = 210, top = 26;
    const scale = (wide - left - right) / Math.max(length, 1e-6);
    const thick = blank.top - blank.bed;
    const tall = Math.max(1, Math.floor(150 / (thick * scale) * 2) / 2);
    const rise = scale * Math.min(tall, 40);
    const x = (s) => left + s * scale;
    const y = (z) => top + 20 + (blank.top - z) * rise;
    const inside = found.filter(([, z]) => Number.isFinite(z));
    const svg = drawn('svg', { viewBox: `0 0 ${wide} ${Math.max(high, y(blank.bed) + 50)}`, role: 'img', 'aria-labelledby': 'section-words' });
    svg.append(this.hatch());
    if (inside.length) {
      const line = inside.map(([s, z]) => `${x(s).toFixed(1)} ${y(Math.max(z, blank.bed)).toFixed(1)}`);
      const [from, to] = [inside[0][0], inside[inside.length - 1][0]];
      svg.append(drawn('path', {
        d: `M${x(from)} ${y(blank.bed)}L${line.join('L')}L${x(to)} ${y(blank.bed)}Z`, fill: 'url(#hatch)', stroke: 'none',
      }));
      svg.append(drawn('path', { d: `M${line.join('L')}`, fill: 'none', stroke: themed('--ink'), 'stroke-width': 2, 'stroke-linejoin': 'round' }));
      svg.append(drawn('path', { d: `M${x(from)} ${y(blank.bed)}H${x(to)}`, stroke: themed('--ink'), 'stroke-width': 1.2 }));
    }
    svg.append(...this.levels(x, y, length), ...this.letters(wide, left, right, top));
    byId('section').replaceChildren(svg);
    this.say(inside, tall, units);
  }

  hatch() {
    const pattern = drawn('pattern', { id: 'hatch', width: 9, height: 9, patternUnits: 'userSpaceOnUse', patternTransform: 'rotate(45)' });
    pattern.append(drawn('path', { d: 'M0 0V9', stroke: themed('--line'), 'stroke-width': 1.3 }));
    const defs = drawn('defs', {});
    defs.append(pattern);
    return defs;
  }

  // Lines at the top, at the depths that were meant, at the lowest place and at the bed.
  levels(x, y, length) {
    const { blank, stages, units } = this.model;
    const marks = [[blank.top, 'top', '']];
    for (const stage of stages) {
      if (stage.depth !== null && stage.depth < blank.top - blank.bed) {
        marks.push([blank.top - stage.depth, `${asLength(stage.depth, units)}`, '7 4']);
      }
    }
    marks.push([blank.bed, 'bed', '']);
    const parts = [];
    let last = -Infinity;
    for (const [z, words, dash] of marks.sort((p, q) => q[0] - p[0])) {
      parts.push(drawn('path', { d: `M${x(0) - 6} ${y(z)}H${x(length)}`, stroke: themed('--faint'), 'stroke-width': 1, 'stroke-dasharray': dash || '1 4', fill: 'none' }));
      if (y(z) - last > 13) {
        parts.push(drawn('text', { x: x(0) - 10, y: y(z) + 4, 'text-anchor': 'end' }, words));
        last = y(z);
      }
    }
    const bar = niceLength(length / 4);
    const foot = y(blank.bed) + 26;
    parts.push(drawn('path', { d: `M${x(0)} ${foot - 5}v10M${x(0)} ${foot}H${x(bar)}M${x(bar)} ${foot - 5}v10`, stroke: themed('--ink'), fill: 'none', 'stroke-width': 1.3 }));
    parts.push(drawn('text', { x: x(bar) + 8, y: foot + 4 }, asLength(bar, units)));
    return parts;
  }

  letters(wide, left, right, top) {
    const words = { 'font-weight': 600, 'text-anchor': 'middle' };
    return [drawn('text', { x: left, y: top - 8, ...words }, 'S'), drawn('text', { x: wide - right - 4, y: top - 8, ...words }, 'S′')];
  }

  say(inside, tall, units) {
    const { blank } = this.model;
    const stretched = tall > 1 ? `heights drawn × ${Math.min(tall, 40)}` : 'heights to the same scale';
    if (!inside.length) { byId('section-words').textContent = 'The line does not meet the blank.'; return; }
    const lowest = Math.min(...inside.map(([, z]) => z));
    const deepest = lowest >= blank.top - 1e-6 ? 'not cut along the line' : `deepest ${asLength(blank.top - lowest, units)}`;
    const floor = lowest <= blank.bed + 1e-6 ? 'cut through' : `${asLength(lowest - blank.bed, units)} of floor left there`;
    const corner = ([x, y]) => `X ${asLength(x, units)}, Y ${asLength(y, units)}`;
    const run = `S at ${corner(this.ends.a)}, S′ at ${corner(this.ends.b)}`;
    byId('section-words').textContent = `${run}: ${deepest}, ${floor}; ${stretched}. Hatched: material.`;
  }

  // The cutting line in the view from above: dash and dot with strong ends and letters (ISO 128-3).
  marks(view) {
    const [a, b] = [view.spot(...this.ends.a), view.spot(...this.ends.b)];
    const length = Math.hypot(b[0] - a[0], b[1] - a[1]) || 1;
    const [du, dv] = [(b[0] - a[0]) / length, (b[1] - a[1]) / length];
    const whole = `M${a}L${b}`;
    const parts = [
      drawn('path', { d: whole, stroke: '#fff', 'stroke-width': 4, 'stroke-opacity': 0.75 }),
      drawn('path', { d: whole, stroke: '#0b1016', 'stroke-width': 1.3, 'stroke-dasharray': '16 4 3 4' }),
    ];
    for (const [end, [u, v], sense, letter] of [['a', a, 1, 'S'], ['b', b, -1, 'S′']]) {
      const strong = `M${u} ${v}l${du * 16 * sense} ${dv * 16 * sense}M${u} ${v}l${dv * 14} ${-du * 14}`;
      parts.push(drawn('path', { d: strong, stroke: '#fff', 'stroke-width': 6, fill: 'none' }));
      parts.push(drawn('path', { d: strong, stroke: '#0b1016', 'stroke-width': 3, fill: 'none' }));
      const [tu, tv] = [u + dv * 18 - du * 12 * sense, v - du * 18 - dv * 12 * sense];
      parts.push(drawn('text', { x: tu, y: tv + 5, 'text-anchor': 'middle', fill: '#0b1016', stroke: '#fff', 'stroke-width': 4, 'paint-order': 'stroke' }, letter));
      parts.push(drawn('circle', { cx: u, cy: v, r: 17, fill: 'transparent', class: 'grip', 'data-end': end }));
    }
    return parts;
  }
}

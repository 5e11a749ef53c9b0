// The view from above: pan, zoom, read-out, flags, clamps, path, and the line of the section.

class TopView {
  constructor(model) {
    this.model = model;
    this.box = byId('top');
    this.canvas = this.box.querySelector('canvas');
    this.overlay = this.box.querySelector('svg');
    this.brush = document.createElement('canvas');
    this.pointers = new Map();
    this.cross = null;
    this.chosen = 0;
    const xs = [...model.clamps.flatMap((c) => [c.low[0], c.high[0]]), model.blank.low[0], model.blank.high[0]];
    const ys = [...model.clamps.flatMap((c) => [c.low[1], c.high[1]]), model.blank.low[1], model.blank.high[1]];
    this.extent = [Math.min(...xs), Math.min(...ys), Math.max(...xs), Math.max(...ys)];
    this.drive();
    model.listen(() => { this.repaint(); this.say(); });
    new ResizeObserver(() => this.fit()).observe(this.box);
    for (const id of ['show-path', 'show-flags', 'show-section']) {
      byId(id).addEventListener('change', () => this.draw());
    }
    byId('top-in').addEventListener('click', () => this.zoom(1.5));
    byId('top-out').addEventListener('click', () => this.zoom(1 / 1.5));
    byId('top-whole').addEventListener('click', () => this.whole());
  }

  fit() {
    const wide = this.box.clientWidth;
    if (!wide) return;
    const [left, front, right, back] = this.extent;
    // No taller than the blank needs, nor than leaves room for the read-out below.
    const wanted = (wide - 70) * (back - front) / (right - left) + 76;
    this.box.style.height = `${Math.round(Math.max(280, Math.min(wanted, 600, window.innerHeight * 0.62)))}px`;
    const high = this.box.clientHeight;
    const dense = Math.min(2, window.devicePixelRatio || 1);
    this.canvas.width = wide * dense;
    this.canvas.height = high * dense;
    this.dense = dense;
    const [x0, y0, x1, y1] = this.extent;
    this.least = Math.min((wide - 70) / (x1 - x0), (high - 72) / (y1 - y0));
    if (!this.scale || !this.zoomed) this.whole(); else this.draw();
  }

  whole() {
    const [x0, y0, x1, y1] = this.extent;
    this.scale = this.least;
    this.middle = [(x0 + x1) / 2, (y0 + y1) / 2];
    this.setZoomed(false);
    this.draw();
  }

  setZoomed(zoomed) {
    this.zoomed = zoomed;
    this.box.classList.toggle('zoomed', zoomed);
  }

  zoom(factor, at) {
    const [u, v] = at || [this.box.clientWidth / 2, this.box.clientHeight / 2];
    const [x, y] = this.place(u, v);
    this.scale = Math.min(Math.max(this.scale * factor, this.least), this.least * 200);
    if (this.scale <= this.least * 1.001) { this.whole(); return; }
    this.setZoomed(true);
    const [px, py] = this.place(u, v);
    this.middle = [this.middle[0] + x - px, this.middle[1] + y - py];
    this.draw();
  }

  spot(x, y) {
    return [
      this.box.clientWidth / 2 + (x - this.middle[0]) * this.scale,
      this.box.clientHeight / 2 - (y - this.middle[1]) * this.scale,
    ];
  }

  place(u, v) {
    return [
      this.middle[0] + (u - this.box.clientWidth / 2) / this.scale,
      this.middle[1] - (v - this.box.clientHeight / 2) / this.scale,
    ];
  }

  // ---------------------------------------------------------------- hands

  drive() {
    const box = this.box;
    const at = (event) => {
      const frame = box.getBoundingClientRect();
      return [event.clientX - frame.left - box.clientLeft, event.clientY - frame.top - box.clientTop];
    };
    box.addEventListener('pointerdown', (event) => {
      if (event.target.closest('a')) return;
      const grip = event.target.closest('.grip');
      this.pointers.set(event.pointerId, { at: at(event), grip: grip?.dataset.end, from: at(event) });
      box.setPointerCapture(event.pointerId);
    });
    box.addEventListener('pointermove', (event) => this.move(event, at(event)));
    const up = (event) => {
      const pointer = this.pointers.get(event.pointerId);
      this.pointers.delete(event.pointerId);
      if (!pointer || event.type === 'pointercancel') return;
      const [u, v] = at(event);
      if (!pointer.grip && Math.hypot(u - pointer.from[0], v - pointer.from[1]) < 6) this.look(u, v);
    };
    box.addEventListener('pointerup', up);
    box.addEventListener('pointercancel', up);
    box.addEventListener('wheel', (event) => {
      // The page scrolls with the wheel unless the view was entered or control is held (a pinch).
      if (!event.ctrlKey && document.activeElement !== box) return;
      event.preventDefault();
      this.zoom(Math.exp(-event.deltaY * 0.0016), at(event));
    }, { passive: false });
    box.addEventListener('keydown', (event) => this.key(event));
  }

  move(event, [u, v]) {
    const pointer = this.pointers.get(event.pointerId);
    if (!pointer) {
      if (event.pointerType === 'mouse') this.look(u, v);
      return;
    }
    const old = pointer.at;
    pointer.at = [u, v];
    if (pointer.grip) { section.moveEnd(pointer.grip, this.place(u, v)); return; }
    if (this.pointers.size === 2) {
      const [other] = [...this.pointers.values()].filter((p) => p !== pointer);
      const before = Math.hypot(old[0] - other.at[0], old[1] - other.at[1]);
      const now = Math.hypot(u - other.at[0], v - other.at[1]);
      if (before > 4) this.zoom(now / before, [(u + other.at[0]) / 2, (v + other.at[1]) / 2]);
    } else if (this.zoomed) {
      this.middle[0] -= (u - old[0]) / this.scale;
      this.middle[1] += (v - old[1]) / this.scale;
      this.draw();
    }
  }

  key(event) {
    const step = event.shiftKey ? 1 : 12;
    const moves = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, 1], ArrowDown: [0, -1] };
    if (moves[event.key]) {
      const [x, y] = this.cross || this.middle;
      const [dx, dy] = moves[event.key].map((d) => d * step / this.scale);
      this.cross = [x + dx, y + dy];
      const [u, v] = this.spot(...this.cross);
      if (u < 0 || v < 0 || u > this.box.clientWidth || v > this.box.clientHeight) this.middle = [...this.cross];
      this.draw();
      this.say();
    } else if (event.key === '+' || event.key === '=') this.zoom(1.5, this.cross && this.spot(...this.cross));
    else if (event.key === '-') this.zoom(1 / 1.5, this.cross && this.spot(...this.cross));
    else if (event.key === '0') this.whole();
    else return;
    event.preventDefault();
  }

  look(u, v) {
    this.cross = this.place(u, v);
    this.drawOverlay();
    this.say();
  }

  // Bring a finding to the middle.
  show(number) {
    const finding = this.model.findings[number - 1];
    if (!finding?.at) return;
    this.chosen = number;
    this.scale = Math.max(this.scale, this.least * 4);
    this.middle = finding.at.slice(0, 2);
    this.cross = finding.at.slice(0, 2);
    this.setZoomed(true);
    this.draw();
    this.say();
  }

  // ---------------------------------------------------------------- what is under the cross

  reading() {
    if (!this.cross) return null;
    const [x, y] = this.cross;
    const { field, blank, units } = this.model;
    const i = field.index(x, y);
    const place = `X ${asLength(x, units)}, Y ${asLength(y, units)}`;
    if (i < 0) return { place, depth: 'off the blank', floor: '—', row: null };
    const z = field.heights[i];
    const lowest = field.later && field.later[i] < z - 1e-6 ? field.later[i] : null;
    let depth = z >= blank.top - 1e-6 ? 'not cut' : asLength(blank.top - z, units);
    if (lowest !== null) depth += ` to ${asLength(blank.top - lowest, units)}`;
    const floor = z <= blank.bed + 1e-6 ? 'none, cut through' : asLength(z - blank.bed, units);
    return { place, depth, floor, row: this.model.rowSays(field.rows[i] - 1), z };
  }

  say() {
    const reading = this.reading();
    if (!reading) return;
    byId('read-place').textContent = reading.place;
    byId('read-depth').textContent = reading.depth;
    byId('read-floor-left').textContent = reading.floor;
    const cell = byId('read-cut-by');
    cell.textContent = '';
    const row = reading.row;
    if (!row) { cell.textContent = '—'; return; }
    const about = this.model.path.group > 1 ? 'about ' : '';
    const words = `${about}line ${row.line}`;
    cell.append(`stage ${row.stage}, `);
    if (row.target) {
      const link = document.createElement('a');
      link.href = row.target;
      link.textContent = words;
      cell.append(link);
    } else cell.append(words);
  }

  // ---------------------------------------------------------------- drawing

  repaint() {
    const image = this.model.field.picture(this.model.colours);
    this.brush.width = image.width;
    this.brush.height = image.height;
    this.brush.getContext('2d').putImageData(image, 0, 0);
    this.draw();
  }

  draw() {
    if (!this.scale) return;
    const pen = this.canvas.getContext('2d');
    const { blank, field } = this.model;
    pen.setTransform(this.dense, 0, 0, this.dense, 0, 0);
    pen.clearRect(0, 0, this.box.clientWidth, this.box.clientHeight);
    const [u, v] = this.spot(blank.low[0], blank.low[1] + field.ny * field.cell);
    const [u1, v1] = this.spot(blank.low[0] + field.nx * field.cell, blank.low[1]);
    const [cu, cv] = this.spot(blank.low[0], blank.high[1]);
    const [cu1, cv1] = this.spot(blank.high[0], blank.low[1]);
    pen.save();
    pen.beginPath();
    pen.rect(cu, cv, cu1 - cu, cv1 - cv);
    pen.clip();
    pen.imageSmoothingEnabled = field.cell * this.scale < 3;
    pen.imageSmoothingQuality = 'high';
    pen.drawImage(this.brush, u, v, u1 - u, v1 - v);
    pen.restore();
    pen.strokeStyle = themed('--ink');
    pen.lineWidth = 1.5;
    pen.strokeRect(cu, cv, cu1 - cu, cv1 - cv);
    this.drawClamps(pen);
    if (byId('show-path').checked) this.drawPath(pen);
    if (!this.model.atEnd) this.drawBit(pen);
    this.drawOverlay();
  }

  drawClamps(pen) {
    pen.strokeStyle = pen.fillStyle = '#78608c';
    for (const clamp of this.model.clamps) {
      const [u, v] = this.spot(clamp.low[0], clamp.high[1]);
      const [u1, v1] = this.spot(clamp.high[0], clamp.low[1]);
      pen.save();
      pen.lineWidth = 2;
      pen.strokeRect(u, v, u1 - u, v1 - v);
      pen.beginPath();
      pen.rect(u, v, u1 - u, v1 - v);
      pen.clip();
      pen.lineWidth = 1;
      pen.beginPath();
      for (let d = u - (v1 - v); d < u1; d += 8) { pen.moveTo(d, v1); pen.lineTo(d + v1 - v, v); }
      pen.stroke();
      pen.restore();
    }
  }

  drawPath(pen) {
    const { points, place, route, atEnd } = this.model;
    const last = atEnd ? points : this.model.bitAt().corners;
    for (const rapid of [false, true]) {
      pen.beginPath();
      for (let i = 1; i < last; i++) {
        if ((route.kind[i] === 1) !== rapid || route.kind[i] === 2) continue;
        pen.moveTo(...this.spot(place[i - 1], place[points + i - 1]));
        pen.lineTo(...this.spot(place[i], place[points + i]));
      }
      pen.setLineDash(rapid ? [6, 4] : []);
      pen.lineWidth = 3;
      pen.strokeStyle = 'rgb(255 255 255 / .65)';
      pen.stroke();
      pen.lineWidth = 1.1;
      pen.strokeStyle = '#0b1016';
      pen.stroke();
    }
    pen.setLineDash([]);
  }

  drawBit(pen) {
    const { place } = this.model.bitAt();
    const stage = this.model.stageAt(this.model.time);
    if (!place) return;
    const [u, v] = this.spot(place[0], place[1]);
    const radius = stage.bit ? Math.max(...stage.bit.map(([r]) => r)) * this.scale : 6;
    for (const [wide, ink] of [[4, '#fff'], [1.6, '#0b1016']]) {
      pen.beginPath();
      pen.arc(u, v, Math.max(radius, 3), 0, 2 * Math.PI);
      pen.moveTo(u - radius - 6, v); pen.lineTo(u + radius + 6, v);
      pen.moveTo(u, v - radius - 6); pen.lineTo(u, v + radius + 6);
      pen.lineWidth = wide;
      pen.strokeStyle = ink;
      pen.stroke();
    }
  }

  drawOverlay() {
    const parts = [];
    parts.push(...this.zeroMark(), ...this.sizes());
    if (byId('show-section').checked) parts.push(...section.marks(this));
    if (byId('show-flags').checked) parts.push(...flagsOf(this.model, (f) => this.spot(f.at[0], f.at[1]), this.chosen));
    if (this.cross) {
      const [u, v] = this.spot(...this.cross);
      parts.push(drawn('path', { d: `M${u - 9} ${v}H${u + 9}M${u} ${v - 9}V${v + 9}`, stroke: '#fff', 'stroke-width': 4 }));
      parts.push(drawn('path', { d: `M${u - 9} ${v}H${u + 9}M${u} ${v - 9}V${v + 9}`, stroke: '#0b1016', 'stroke-width': 1.5 }));
    }
    const focused = document.activeElement?.dataset?.flag;
    this.overlay.replaceChildren(...parts);
    if (focused) this.overlay.querySelector(`[data-flag="${focused}"]`)?.focus();
  }

  zeroMark() {
    const [u, v] = this.spot(0, 0);
    const words = { stroke: '#fff', 'stroke-width': 4, 'paint-order': 'stroke', fill: '#0b1016', 'text-anchor': 'middle' };
    return [
      drawn('path', { d: `M${u} ${v}h34M${u} ${v}v-34`, stroke: '#fff', 'stroke-width': 5 }),
      drawn('path', { d: `M${u} ${v}h34M${u} ${v}v-34`, stroke: '#0b1016', 'stroke-width': 1.6 }),
      drawn('circle', { cx: u, cy: v, r: 4.5, fill: '#fff', stroke: '#0b1016', 'stroke-width': 1.6 }),
      drawn('text', { x: u + 43, y: v + 5, ...words }, 'X'),
      drawn('text', { x: u, y: v - 40, ...words }, 'Y'),
    ];
  }

  // The blank's sides with their measures, as on a drawing, while the whole is shown.
  sizes() {
    const { blank, units } = this.model;
    const [u, v] = this.spot(blank.low[0], blank.low[1]);
    const [u1, v1] = this.spot(blank.high[0], blank.high[1]);
    const ink = themed('--faint');
    const y = v + 11;
    if (this.zoomed) return this.scaleBar(ink);
    // Beside clamps and away from the letter of the section.
    const aside = section.ends.a[1] > (blank.low[1] + blank.high[1]) / 2 ? 0.36 : -0.36;
    const across = asLength(blank.high[0] - blank.low[0], units);
    const along = asLength(blank.high[1] - blank.low[1], units);
    return [
      drawn('path', { d: `M${u} ${v + 3}V${y + 5}M${u1} ${v + 3}V${y + 5}M${u} ${y}H${u1}`, stroke: ink, fill: 'none' }),
      drawn('text', { x: (u + u1) / 2, y: y + 17, 'text-anchor': 'middle', fill: ink, 'paint-order': 'stroke', stroke: themed('--raised'), 'stroke-width': 5 }, `front, ${across}`),
      drawn('text', { x: 0, y: 0, 'text-anchor': 'middle', fill: ink, transform: `translate(${Math.max(u - 8, 13)} ${(v + v1) / 2 + (v - v1) * aside}) rotate(-90)` }, along),
    ];
  }

  scaleBar(ink) {
    const length = niceLength(120 / this.scale);
    const high = this.box.clientHeight;
    const wide = length * this.scale;
    return [
      drawn('path', { d: `M12 ${high - 18}v10M12 ${high - 13}h${wide}M${12 + wide} ${high - 18}v10`, stroke: '#fff', 'stroke-width': 4, fill: 'none' }),
      drawn('path', { d: `M12 ${high - 18}v10M12 ${high - 13}h${wide}M${12 + wide} ${high - 18}v10`, stroke: '#0b1016', 'stroke-width': 1.6, fill: 'none' }),
      drawn('text', { x: 20 + wide, y: high - 9, fill: '#0b1016', stroke: '#fff', 'stroke-width': 4, 'paint-order': 'stroke' }, asLength(length, this.model.units)),
    ];
  }
}

const LEANS = [[13, -31], [-17, -31], [40, -31], [-44, -31], [13, 33], [-17, 33], [40, 33], [-44, 33], [13, -60], [-17, -60], [40, -60], [-44, -60]];

// Numbered flags at the findings; squares are errors, rounded ones are not.
function flagsOf(model, spotOf, chosen) {
  const inks = { error: '#6e0b14', warning: '#8f6300', note: '#1f5fa8' };
  const taken = [];
  return model.findings.filter((f) => f.at).map((finding) => {
    const [u, v] = spotOf(finding);
    const words = String(finding.number);
    const half = 9 + 4 * words.length;
    // The first way to lean in which the flag hides no other.
    const free = ([du, dv]) => taken.every(([x, y, h]) => Math.abs(u + du - x) > half + h + 2 || Math.abs(v + dv - y) > 25);
    const [du, dv] = LEANS.find(free) || LEANS[0];
    taken.push([u + du, v + dv, half]);
    const link = drawn('a', { href: `#finding-${finding.number}`, 'data-flag': finding.number });
    link.setAttribute('aria-label', `finding ${finding.number}, ${finding.level} ${finding.code}`);
    const ink = inks[finding.level];
    link.append(
      drawn('path', { d: `M${u} ${v}l${du} ${dv}`, stroke: '#fff', 'stroke-width': 5 }),
      drawn('path', { d: `M${u} ${v}l${du} ${dv}`, stroke: ink, 'stroke-width': 2 }),
      drawn('circle', { cx: u, cy: v, r: 4, fill: ink, stroke: '#fff' }),
      drawn('rect', {
        x: u + du - half, y: v + dv - 11.5, width: 2 * half, height: 23, fill: ink, stroke: '#fff',
        'stroke-width': finding.number === chosen ? 4 : 1.5, rx: finding.level === 'error' ? 0 : 11,
      }),
      drawn('text', { x: u + du, y: v + dv + 5, fill: '#fff', 'text-anchor': 'middle' }, words),
    );
    return link;
  });
}

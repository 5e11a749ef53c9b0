// The job as the page knows it: the path, the moments, and the blank at any time.

class Model {
  static async from(data) {
    const model = new Model();
    Object.assign(model, data);
    const path = data.path;
    const names = ['line', 'source', 'stage', 'ends', 'places', 'row', 'at', 'kind'];
    const arrays = await Promise.all(names.map((name) => unpacked(path[name])));
    model.route = Object.fromEntries(names.map((name, k) => [name, arrays[k]]));
    const count = model.route.row.length;
    model.place = Float32Array.from(model.route.places, (v) => v * path.step + path.low);
    model.points = count;
    const { map, moments } = data;
    const all = [map.heights, map.rows, moments.heights, moments.rows];
    const [mapLevels, mapRows, levels, rows] = await Promise.all(all.map(unpacked));
    const high = (level) => data.heights.low + level * data.heights.step;
    const [ny, nx] = map.heights.shape;
    model.final = new Field(data.blank, map.cell, nx, ny, Float32Array.from(mapLevels, high), mapRows);
    model.unfold(levels, rows, high);
    model.seconds = Math.max(data.seconds, 0);
    model.listeners = [];
    model.time = model.seconds;
    model.field = model.final;
    return model;
  }

  // Each moment's map was sent as what changed since the one before.
  unfold(levels, rows, high) {
    const [count, ny, nx] = this.moments.heights.shape;
    const size = ny * nx;
    for (let i = size; i < levels.length; i++) {
      levels[i] = (levels[i] + levels[i - size]) & 65535;
      rows[i] = (rows[i] + rows[i - size]) % 4294967296;
    }
    this.marks = this.moments.at.map((at, k) => ({
      ...at,
      heights: Float32Array.from(levels.subarray(k * size, (k + 1) * size), high),
      rows: rows.subarray(k * size, (k + 1) * size),
    }));
    this.grid = { nx, ny, count };
  }

  listen(call) { this.listeners.push(call); }

  // How many rows (groups of rows) are done at a time.
  rowsDone(seconds) {
    const ends = this.route.ends;
    const wanted = Math.round(seconds * 1000);
    let low = 0, high = ends.length;
    while (low < high) {
      const middle = (low + high) >> 1;
      if (ends[middle] <= wanted) low = middle + 1; else high = middle;
    }
    return low;
  }

  // Index of the last moment that is not after `seconds`.
  markBefore(seconds) {
    let k = 0;
    while (k + 1 < this.marks.length && this.marks[k + 1].seconds <= seconds + 5e-4) k++;
    return k;
  }

  // Go to a time; everything that is shown follows.
  set(seconds) {
    this.time = Math.min(Math.max(seconds, 0), this.seconds);
    const k = this.markBefore(this.time);
    const mark = this.marks[k];
    this.atMark = Math.abs(mark.seconds - this.time) < 5e-4 + this.seconds * 1e-9;
    this.atEnd = this.time >= this.seconds - 5e-4;
    this.done = this.atMark ? mark.row : this.rowsDone(this.time);
    this.solidField = this.atMark ? this.fieldOf(mark) : this.between(mark, this.marks[k + 1]);
    this.field = this.atEnd ? this.final : this.solidField;
    this.between_ = this.atMark || this.atEnd ? null : [mark.seconds, this.marks[k + 1]?.seconds];
    this.listeners.forEach((call) => call());
  }

  fieldOf(mark) {
    const { nx, ny } = this.grid;
    return new Field(this.blank, this.moments.cell, nx, ny, mark.heights, mark.rows, null);
  }

  // Between two moments: a cell whose last cut before the later one is done is as it will be
  // then; any other is drawn as it was, and `later` says how deep it may be at most.
  between(before, after) {
    if (!after) return this.fieldOf(before);
    const size = before.heights.length;
    const heights = Float32Array.from(before.heights), rows = Uint32Array.from(before.rows);
    for (let i = 0; i < size; i++) {
      if (after.rows[i] <= this.done) { heights[i] = after.heights[i]; rows[i] = after.rows[i]; }
    }
    const { nx, ny } = this.grid;
    return new Field(this.blank, this.moments.cell, nx, ny, heights, rows, after.heights);
  }

  // Where the bit's tip is at the time: [x, y, z], and the number of path corners behind it.
  bitAt() {
    const { at, kind } = this.route;
    const wanted = this.time * 1000;
    let low = 0, high = this.points;
    while (low < high) {
      const middle = (low + high) >> 1;
      if (at[middle] <= wanted) low = middle + 1; else high = middle;
    }
    const n = this.points;
    const spot = (i) => [this.place[i], this.place[n + i], this.place[2 * n + i]];
    if (!n) return { place: null, corners: 0 };
    if (low === 0) return { place: spot(0), corners: 0 };
    if (low === n || kind[low] === 2) return { place: spot(low - 1), corners: low };
    const a = spot(low - 1), b = spot(low);
    const span = at[low] - at[low - 1];
    const part = span > 0 ? (wanted - at[low - 1]) / span : 1;
    return { place: a.map((v, i) => v + part * (b[i] - v)), corners: low };
  }

  stageAt(seconds) {
    let begun = 0;
    for (const stage of this.stages) {
      if (seconds <= begun + stage.seconds + 1e-6) return stage;
      begun += stage.seconds;
    }
    return this.stages[this.stages.length - 1];
  }

  // What is known of the row with number `row` (from 0): its stage, program and line.
  rowSays(row) {
    if (row < 0 || row >= this.route.line.length) return null;
    const source = this.route.source[row];
    const line = this.route.line[row];
    return {
      stage: this.route.stage[row], program: this.path.sources[source][1], line,
      target: byId(`p${source}l${line}`) ? `#p${source}l${line}` : null,
    };
  }
}

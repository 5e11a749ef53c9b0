// The 3-D view: heights as a texture, triangles made from the vertex number, parallel projection.

const BLANK_VERTEX = `#version 300 es
precision highp float;
uniform highp sampler2D heights;
uniform ivec2 grid;
uniform vec4 box;      // low x, low y, high x, high y
uniform vec2 level;    // bed, top
uniform float cell;
uniform int part;      // 0 the top, 1 the sides
uniform mat4 camera;
out vec3 place;
flat out int side;

float height(ivec2 at) { return max(texelFetch(heights, clamp(at, ivec2(0), grid - 1), 0).r, level.x); }

// Cells at the edge reach to the blank's edge.
vec2 spot(ivec2 at) {
  vec2 middle = box.xy + (vec2(at) + 0.5) * cell;
  if (at.x == 0) middle.x = box.x;
  if (at.y == 0) middle.y = box.y;
  if (at.x == grid.x - 1) middle.x = box.z;
  if (at.y == grid.y - 1) middle.y = box.w;
  return middle;
}

void main() {
  int corner = gl_VertexID % 6;
  int quad = gl_VertexID / 6;
  ivec2 turn = ivec2(corner == 1 || corner == 2 || corner == 4 ? 1 : 0,
                     corner == 2 || corner == 4 || corner == 5 ? 1 : 0);
  side = part;
  if (part == 0) {
    int across = grid.x - 1;
    ivec2 at = ivec2(quad % across, quad / across) + turn;
    place = vec3(spot(at), height(at));
  } else {
    int along = quad;
    ivec2 at;
    int nx = grid.x - 1, ny = grid.y - 1;
    if (along < nx) at = ivec2(along + turn.x, 0);
    else if (along < nx + ny) at = ivec2(nx, along - nx + turn.x);
    else if (along < 2 * nx + ny) at = ivec2(along - nx - ny + turn.x, ny);
    else at = ivec2(0, along - 2 * nx - ny + turn.x);
    place = vec3(spot(at), turn.y == 1 ? height(at) : level.x);
  }
  gl_Position = camera * vec4(place, 1.0);
}`;

const BLANK_FRAGMENT = `#version 300 es
precision highp float;
in vec3 place;
flat in int side;
uniform vec2 level;
uniform float deepest;
uniform vec3 scale[17];
uniform vec3 uncut;
uniform float tall;
out vec4 colour;

void main() {
  if (side == 0 && place.z <= level.x + 0.001) discard;
  vec3 real = vec3(place.xy, place.z * tall);
  vec3 normal = normalize(cross(dFdx(real), dFdy(real)));
  float light = abs(dot(normal, normalize(vec3(-0.5, 0.5, 0.9))));
  vec3 base = vec3(0.60, 0.57, 0.52);
  if (side == 0) {
    float depth = level.y - place.z;
    float at = (1.0 - clamp(depth / deepest, 0.0, 1.0)) * 16.0;
    int low = min(int(at), 15);
    base = depth < 0.002 ? uncut : mix(scale[low], scale[low + 1], at - float(low));
  }
  colour = vec4(base * (0.5 + 0.55 * light), 1.0);
}`;

const PLAIN_VERTEX = `#version 300 es
precision highp float;
layout(location = 0) in vec3 at;
uniform mat4 camera;
uniform vec3 shift;
uniform vec3 stretch;
out vec3 place;
void main() {
  place = at;
  gl_Position = camera * vec4(at * stretch + shift, 1.0);
}`;

const PLAIN_FRAGMENT = `#version 300 es
precision highp float;
in vec3 place;
uniform vec4 ink;
uniform int lit;
out vec4 colour;
void main() {
  vec3 base = ink.rgb;
  if (lit == 1) {
    vec3 normal = normalize(cross(dFdx(place), dFdy(place)));
    base *= 0.45 + 0.6 * abs(dot(normal, normalize(vec3(-0.5, 0.35, 0.6))));
  }
  colour = vec4(base, ink.a);
}`;

const FIRST_TURN = -28 * Math.PI / 180, FIRST_TILT = 38 * Math.PI / 180;

class SolidView {
  constructor(model) {
    this.model = model;
    this.box = byId('solid');
    this.canvas = this.box.querySelector('canvas');
    this.overlay = this.box.querySelector('svg');
    const gl = this.canvas.getContext('webgl2', { antialias: true, preserveDrawingBuffer: true });
    if (!gl) throw new Error('this browser has no WebGL 2');
    this.gl = gl;
    this.blank = program(gl, BLANK_VERTEX, BLANK_FRAGMENT);
    this.plain = program(gl, PLAIN_VERTEX, PLAIN_FRAGMENT);
    this.texture = gl.createTexture();
    this.buffers = {};
    this.shapes();
    this.turn = FIRST_TURN;
    this.tilt = FIRST_TILT;
    this.closer = 1;
    this.shift = [0, 0];
    this.tall = 1;
    this.pointers = new Map();
    this.drive();
    model.listen(() => { this.load(); this.draw(); });
    new ResizeObserver(() => this.draw()).observe(this.box);
    byId('show-flags').addEventListener('change', () => this.draw());
    byId('show-path').addEventListener('change', () => this.draw());
    this.canvas.addEventListener('webglcontextlost', () => giveUpSolid('the 3-D view was lost by the browser'));
  }

  // ---------------------------------------------------------------- what is drawn

  shapes() {
    const { model } = this;
    const { blank } = model;
    const lines = [];
    for (const clamp of model.clamps) lines.push(...boxLines(clamp.low, clamp.high, blank.top, blank.top + clamp.height));
    const long = 0.14 * Math.max(blank.high[0] - blank.low[0], blank.high[1] - blank.low[1]);
    this.long = long;
    this.upload('clamps', lines);
    this.upload('axes', [0, 0, 0, long, 0, 0, 0, 0, 0, 0, long, 0, 0, 0, 0, 0, 0, long]);
    this.upload('bed', bedLines(blank));
    const { points, place, route } = model;
    const path = [];
    this.pathEnd = new Uint32Array(points + 1);
    for (let i = 0; i < points; i++) {
      if (i && route.kind[i] !== 2) {
        for (const k of [i - 1, i]) path.push(place[k], place[points + k], place[2 * points + k]);
      }
      this.pathEnd[i + 1] = path.length / 3;
    }
    this.upload('path', path);
    for (const stage of model.stages) if (stage.bit) this.upload(`bit${stage.number}`, turned(stage.bit));
  }

  upload(name, numbers) {
    const { gl } = this;
    const buffer = gl.createBuffer();
    const array = gl.createVertexArray();
    gl.bindVertexArray(array);
    gl.bindBuffer(gl.ARRAY_BUFFER, buffer);
    gl.bufferData(gl.ARRAY_BUFFER, new Float32Array(numbers), gl.STATIC_DRAW);
    gl.enableVertexAttribArray(0);
    gl.vertexAttribPointer(0, 3, gl.FLOAT, false, 0, 0);
    gl.bindVertexArray(null);
    this.buffers[name] = { array, count: numbers.length / 3 };
  }

  load() {
    const { gl } = this;
    const { nx, ny, heights } = this.model.solidField;
    gl.bindTexture(gl.TEXTURE_2D, this.texture);
    gl.pixelStorei(gl.UNPACK_ALIGNMENT, 4);
    gl.texImage2D(gl.TEXTURE_2D, 0, gl.R32F, nx, ny, 0, gl.RED, gl.FLOAT, heights);
    for (const key of [gl.TEXTURE_MIN_FILTER, gl.TEXTURE_MAG_FILTER]) gl.texParameteri(gl.TEXTURE_2D, key, gl.NEAREST);
  }

  // ---------------------------------------------------------------- camera

  // Pixels per mm so that the blank fits whatever way it is turned.
  scale() {
    const { blank, clamps } = this.model;
    const wide = Math.max(blank.high[0] - blank.low[0], ...clamps.map((c) => c.high[0] - blank.low[0]), ...clamps.map((c) => blank.high[0] - c.low[0]));
    const across = Math.hypot(wide, blank.high[1] - blank.low[1]);
    const up = across * Math.sin(FIRST_TILT) + (blank.top - blank.bed) * 2;
    return this.closer * Math.min((this.box.clientWidth - 30) / across, (this.box.clientHeight - 40) / up);
  }

  centre() {
    const { low, high, bed, top } = this.model.blank;
    return [(low[0] + high[0]) / 2, (low[1] + high[1]) / 2, (bed + top) / 2];
  }

  // Pixels of a place, as in oblique.py.
  spot(x, y, z) {
    const [cx, cy, cz] = this.centre();
    const [a, b, c] = [x - cx, y - cy, (z - cz) * this.tall];
    const across = a * Math.cos(this.turn) - b * Math.sin(this.turn);
    const away = a * Math.sin(this.turn) + b * Math.cos(this.turn);
    const up = away * Math.sin(this.tilt) + c * Math.cos(this.tilt);
    const scale = this.scale();
    return [
      this.box.clientWidth / 2 + this.shift[0] + across * scale,
      this.box.clientHeight / 2 + this.shift[1] - up * scale,
    ];
  }

  matrix() {
    const [cx, cy, cz] = this.centre();
    const { sin, cos } = Math;
    const scale = this.scale();
    const [kx, ky] = [2 * scale / this.box.clientWidth, 2 * scale / this.box.clientHeight];
    const { blank } = this.model;
    const reach = 2 * Math.hypot(blank.high[0] - blank.low[0], blank.high[1] - blank.low[1], (blank.top - blank.bed) * this.tall);
    const rows = [
      [cos(this.turn) * kx, -sin(this.turn) * kx, 0],
      [sin(this.turn) * sin(this.tilt) * ky, cos(this.turn) * sin(this.tilt) * ky, cos(this.tilt) * this.tall * ky],
      [sin(this.turn) * cos(this.tilt) / reach, cos(this.turn) * cos(this.tilt) / reach, -sin(this.tilt) * this.tall / reach],
    ];
    const moved = rows.map((r) => -(r[0] * cx + r[1] * cy + r[2] * cz));
    moved[0] += 2 * this.shift[0] / this.box.clientWidth;
    moved[1] -= 2 * this.shift[1] / this.box.clientHeight;
    return new Float32Array([0, 1, 2].flatMap((c) => [rows[0][c], rows[1][c], rows[2][c], 0]).concat([...moved, 1]));
  }

  // ---------------------------------------------------------------- drawing

  draw() {
    if (this.waiting) return;
    this.waiting = true;
    requestAnimationFrame(() => { this.waiting = false; this.paint(); });
  }

  paint() {
    const { gl, model } = this;
    const { clientWidth: wide, clientHeight: high } = this.box;
    if (!wide || !high || !model.solidField) return;
    const dense = Math.min(2, window.devicePixelRatio || 1);
    this.canvas.width = wide * dense;
    this.canvas.height = high * dense;
    gl.viewport(0, 0, this.canvas.width, this.canvas.height);
    gl.clearColor(0, 0, 0, 0);
    gl.clear(gl.COLOR_BUFFER_BIT | gl.DEPTH_BUFFER_BIT);
    gl.enable(gl.DEPTH_TEST);
    const camera = this.matrix();
    this.paintBlank(camera);
    const dark = matchMedia('(prefers-color-scheme: dark)').matches;
    this.paintPlain(camera, 'bed', dark ? [0.5, 0.57, 0.62, 1] : [0.55, 0.58, 0.6, 1]);
    this.paintPlain(camera, 'clamps', dark ? [0.76, 0.68, 0.84, 1] : [0.47, 0.38, 0.55, 1]);
    if (byId('show-path').checked) this.paintPath(camera);
    if (!model.atEnd) this.paintBit(camera);
    gl.disable(gl.DEPTH_TEST);
    this.paintPlain(camera, 'axes', [0.05, 0.07, 0.1, 1]);
    this.paintOverlay();
  }

  paintBlank(camera) {
    const { gl, model } = this;
    const { blank, colours } = model;
    const { nx, ny, cell } = model.solidField;
    const p = this.blank;
    gl.useProgram(p.program);
    gl.activeTexture(gl.TEXTURE0);
    gl.bindTexture(gl.TEXTURE_2D, this.texture);
    gl.uniform1i(p.at('heights'), 0);
    gl.uniform2i(p.at('grid'), nx, ny);
    gl.uniform4f(p.at('box'), blank.low[0], blank.low[1], blank.high[0], blank.high[1]);
    gl.uniform2f(p.at('level'), blank.bed, blank.top);
    gl.uniform1f(p.at('cell'), cell);
    gl.uniform1f(p.at('deepest'), Math.max(blank.deepest, 1e-6));
    gl.uniform1f(p.at('tall'), this.tall);
    // The scale runs from the deepest to the shallowest in the shader.
    gl.uniform3fv(p.at('scale'), colours.scale.slice().reverse().flat().map((c) => c / 255));
    gl.uniform3fv(p.at('uncut'), colours.uncut.map((c) => c / 255));
    gl.uniformMatrix4fv(p.at('camera'), false, camera);
    gl.bindVertexArray(null);
    if (nx > 1 && ny > 1) {
      gl.uniform1i(p.at('part'), 0);
      gl.drawArrays(gl.TRIANGLES, 0, 6 * (nx - 1) * (ny - 1));
      gl.uniform1i(p.at('part'), 1);
      gl.drawArrays(gl.TRIANGLES, 0, 12 * (nx - 1 + ny - 1));
    }
  }

  paintPlain(camera, name, ink, options = {}) {
    const { gl, plain } = this;
    const { array, count } = this.buffers[name];
    gl.useProgram(plain.program);
    gl.uniformMatrix4fv(plain.at('camera'), false, camera);
    gl.uniform3fv(plain.at('shift'), options.shift || [0, 0, 0]);
    gl.uniform3fv(plain.at('stretch'), options.stretch || [1, 1, 1]);
    gl.uniform4fv(plain.at('ink'), ink);
    gl.uniform1i(plain.at('lit'), options.lit ? 1 : 0);
    gl.bindVertexArray(array);
    gl.drawArrays(options.lit ? gl.TRIANGLES : gl.LINES, 0, Math.min(count, options.count ?? count));
    gl.bindVertexArray(null);
  }

  paintPath(camera) {
    const count = this.model.atEnd ? undefined : this.pathEnd[this.model.bitAt().corners];
    const dark = matchMedia('(prefers-color-scheme: dark)').matches;
    this.paintPlain(camera, 'path', dark ? [0.9, 0.94, 1, 1] : [0.06, 0.13, 0.25, 1], { count });
  }

  paintBit(camera) {
    const { place } = this.model.bitAt();
    const stage = this.model.stageAt(this.model.time);
    if (!place || !stage?.bit) return;
    // Heights may be stretched; the bit is not.
    this.paintPlain(camera, `bit${stage.number}`, [0.72, 0.75, 0.8, 1], {
      lit: true, shift: place, stretch: [1, 1, 1 / this.tall],
    });
  }

  paintOverlay() {
    const { model, long } = this;
    const parts = [];
    const halo = { stroke: '#fff', 'stroke-width': 4, 'paint-order': 'stroke', fill: '#0b1016', 'text-anchor': 'middle' };
    for (const [end, name] of [[[long * 1.15, 0, 0], 'X'], [[0, long * 1.15, 0], 'Y'], [[0, 0, long * 1.15], 'Z']]) {
      const [u, v] = this.spot(...end);
      parts.push(drawn('text', { x: u, y: v + 5, ...halo }, name));
    }
    const length = niceLength(120 / this.scale());
    const wide = length * this.scale();
    const high = this.box.clientHeight;
    const ink = themed('--ink');
    parts.push(drawn('path', { d: `M12 ${high - 18}v10M12 ${high - 13}h${wide}M${12 + wide} ${high - 18}v10`, stroke: ink, 'stroke-width': 1.6, fill: 'none' }));
    const stretched = this.tall > 1 ? `, heights × ${this.tall}` : '';
    parts.push(drawn('text', { x: 20 + wide, y: high - 9, fill: ink }, asLength(length, model.units) + stretched));
    if (byId('show-flags').checked) {
      parts.push(...flagsOf(model, (f) => this.spot(f.at[0], f.at[1], f.at[2] ?? model.blank.top), top_.chosen));
    }
    this.overlay.replaceChildren(...parts);
  }

  // ---------------------------------------------------------------- hands

  drive() {
    const { box } = this;
    box.addEventListener('pointerdown', (event) => {
      if (event.target.closest('a')) return;
      this.pointers.set(event.pointerId, [event.clientX, event.clientY]);
      box.setPointerCapture(event.pointerId);
    });
    box.addEventListener('pointermove', (event) => {
      const old = this.pointers.get(event.pointerId);
      if (!old) return;
      const now = [event.clientX, event.clientY];
      this.pointers.set(event.pointerId, now);
      const [du, dv] = [now[0] - old[0], now[1] - old[1]];
      if (this.pointers.size === 2) {
        const [other] = [...this.pointers.entries()].filter(([id]) => id !== event.pointerId).map(([, at]) => at);
        const before = Math.hypot(old[0] - other[0], old[1] - other[1]);
        const after = Math.hypot(now[0] - other[0], now[1] - other[1]);
        if (before > 4) this.zoom(after / before);
        this.shift = [this.shift[0] + du / 2, this.shift[1] + dv / 2];
        this.draw();
      } else if (event.shiftKey || event.buttons === 4) {
        this.shift = [this.shift[0] + du, this.shift[1] + dv];
        this.draw();
      } else this.rotate(du * 0.008, dv * 0.006);
    });
    for (const name of ['pointerup', 'pointercancel']) {
      box.addEventListener(name, (event) => this.pointers.delete(event.pointerId));
    }
    box.addEventListener('wheel', (event) => {
      if (!event.ctrlKey && document.activeElement !== box) return;
      event.preventDefault();
      this.zoom(Math.exp(-event.deltaY * 0.0016));
    }, { passive: false });
    const keys = {
      ArrowLeft: () => this.rotate(-0.12, 0), ArrowRight: () => this.rotate(0.12, 0),
      ArrowUp: () => this.rotate(0, 0.1), ArrowDown: () => this.rotate(0, -0.1),
      '+': () => this.zoom(1.25), '=': () => this.zoom(1.25), '-': () => this.zoom(0.8), 0: () => this.back(),
    };
    box.addEventListener('keydown', (event) => {
      if (!keys[event.key]) return;
      event.preventDefault();
      keys[event.key]();
    });
    const buttons = { left: 'ArrowLeft', right: 'ArrowRight', up: 'ArrowUp', down: 'ArrowDown', in: '+', out: '-', back: 0 };
    for (const [name, key] of Object.entries(buttons)) byId(`solid-${name}`).addEventListener('click', keys[key]);
    byId('solid-tall').addEventListener('change', (event) => { this.tall = event.target.checked ? 3 : 1; this.draw(); });
  }

  rotate(turn, tilt) {
    this.turn += turn;
    this.tilt = Math.min(Math.PI / 2, Math.max(0.06, this.tilt + tilt));
    this.draw();
  }

  zoom(factor) {
    this.closer = Math.min(40, Math.max(0.5, this.closer * factor));
    this.draw();
  }

  back() {
    [this.turn, this.tilt, this.closer, this.shift] = [FIRST_TURN, FIRST_TILT, 1, [0, 0]];
    this.draw();
  }
}

function program(gl, vertex, fragment) {
  const made = gl.createProgram();
  for (const [kind, text] of [[gl.VERTEX_SHADER, vertex], [gl.FRAGMENT_SHADER, fragment]]) {
    const shader = gl.createShader(kind);
    gl.shaderSource(shader, text);
    gl.compileShader(shader);
    if (!gl.getShaderParameter(shader, gl.COMPILE_STATUS)) throw new Error(gl.getShaderInfoLog(shader));
    gl.attachShader(made, shader);
  }
  gl.linkProgram(made);
  if (!gl.getProgramParameter(made, gl.LINK_STATUS)) throw new Error(gl.getProgramInfoLog(made));
  const places = {};
  return { program: made, at: (name) => (places[name] ??= gl.getUniformLocation(made, name)) };
}

function boxLines(low, high, bottom, top) {
  const ring = [[low[0], low[1]], [high[0], low[1]], [high[0], high[1]], [low[0], high[1]]];
  const lines = [];
  ring.forEach(([x, y], k) => {
    const [x1, y1] = ring[(k + 1) % 4];
    for (const z of [bottom, top]) lines.push(x, y, z, x1, y1, z);
    lines.push(x, y, bottom, x, y, top);
  });
  return lines;
}

// The bed as a grid of lines around the blank.
function bedLines({ low, high, bed }) {
  const step = niceLength(Math.max(high[0] - low[0], high[1] - low[1]) / 4);
  const lines = [];
  const [x0, y0] = [Math.floor((low[0] - step / 2) / step) * step, Math.floor((low[1] - step / 2) / step) * step];
  const [x1, y1] = [Math.ceil((high[0] + step / 2) / step) * step, Math.ceil((high[1] + step / 2) / step) * step];
  for (let x = x0; x <= x1 + 1e-6; x += step) lines.push(x, y0, bed, x, y1, bed);
  for (let y = y0; y <= y1 + 1e-6; y += step) lines.push(x0, y, bed, x1, y, bed);
  return lines;
}

// A bit's outline turned about its axis, as triangles.
function turned(outline) {
  const around = 28;
  const numbers = [];
  for (let i = 1; i < outline.length; i++) {
    const [[r0, z0], [r1, z1]] = [outline[i - 1], outline[i]];
    for (let k = 0; k < around; k++) {
      const [a, b] = [k, k + 1].map((n) => n * 2 * Math.PI / around);
      const corner = (r, angle, z) => [r * Math.cos(angle), r * Math.sin(angle), z];
      const [p, q, r, s] = [corner(r0, a, z0), corner(r0, b, z0), corner(r1, b, z1), corner(r1, a, z1)];
      numbers.push(...p, ...q, ...r, ...p, ...r, ...s);
    }
  }
  return numbers;
}

// Start: unpack, show the live views, and tie the slider, the lists and the links together.

let top_, section, solid;

function giveUpSolid(why) {
  byId('solid').hidden = true;
  byId('solid-controls').hidden = true;
  byId('solid-still').hidden = false;
  byId('solid-words').hidden = false;
  byId('solid-words').textContent = `The picture was drawn beforehand: ${why}.`;
}

function startSolid(model) {
  byId('solid').hidden = false;
  try {
    solid = new SolidView(model);
  } catch (error) {
    giveUpSolid(error.message);
    return;
  }
  byId('solid-still').hidden = true;
  byId('solid-controls').hidden = false;
}

// ---------------------------------------------------------------- the timeline

class Timeline {
  constructor(model) {
    this.model = model;
    this.input = byId('time');
    this.input.max = Math.max(1, Math.round(model.seconds * 10));
    this.input.value = this.input.max;
    this.input.addEventListener('input', () => {
      this.stop();
      const value = Number(this.input.value);
      model.set(value >= Number(this.input.max) ? model.seconds : value / 10);
    });
    byId('time-back').addEventListener('click', () => this.jump(-1));
    byId('time-on').addEventListener('click', () => this.jump(1));
    byId('time-end').addEventListener('click', () => { this.stop(); model.set(model.seconds); });
    byId('time-play').addEventListener('click', () => (this.playing ? this.stop() : this.play()));
    model.listen(() => this.say());
    this.ticks();
  }

  ticks() {
    const svg = byId('ticks');
    const { marks, seconds, stages } = this.model;
    const part = (time) => seconds > 0 ? time / seconds : 0;
    // The thumb of a range does not reach the ends of its box; half its width is kept free.
    const x = (time) => `calc(8px + ${(part(time) * 100).toFixed(3)}% - ${(part(time) * 16).toFixed(2)}px)`;
    const line = (time, top, wide) => {
      const rect = drawn('rect', { y: top, width: wide, height: 22 - 2 * top, fill: themed('--ink') });
      rect.style.x = x(time);
      return rect;
    };
    let begun = 0;
    const parts = marks.map((mark) => line(mark.seconds, 6, 1.5));
    for (const stage of stages) { parts.push(line(begun, 0, 3)); begun += stage.seconds; }
    svg.replaceChildren(...parts, line(begun, 0, 3));
  }

  jump(sense) {
    this.stop();
    const { marks, time } = this.model;
    const next = sense > 0
      ? marks.find((m) => m.seconds > time + 1e-3)
      : [...marks].reverse().find((m) => m.seconds < time - 1e-3);
    if (next) this.model.set(next.seconds);
  }

  play() {
    const { model } = this;
    if (model.atEnd) model.set(0);
    const whole = Math.min(40, Math.max(8, model.seconds / 30));
    let last = performance.now();
    this.playing = true;
    byId('time-play').textContent = 'pause';
    byId('moment').setAttribute('aria-live', 'off');
    const step = (now) => {
      if (!this.playing) return;
      model.set(model.time + (now - last) / 1000 * model.seconds / whole);
      last = now;
      if (model.atEnd) this.stop(); else requestAnimationFrame(step);
    };
    requestAnimationFrame(step);
  }

  stop() {
    this.playing = false;
    byId('time-play').textContent = 'play';
    byId('moment').setAttribute('aria-live', 'polite');
  }

  say() {
    const { model } = this;
    const stage = model.stageAt(model.time);
    this.input.value = model.atEnd ? this.input.max : Math.round(model.time * 10);
    const row = model.rowSays(Math.min(model.done, model.route.line.length) - 1);
    const line = row ? `, ${row.program} line ${row.line}` : '';
    const when = `${asTime(model.time)} of ${asTime(model.seconds)}`;
    const where = `${when}, stage ${stage.number} ${stage.name}${line}.`;
    byId('moment').textContent = `${where} ${this.exactness()}`;
    this.input.setAttribute('aria-valuetext', where);
  }

  // Very long jobs are sent thinned; that is said where it shows.
  thinned() {
    const { group, thinned } = this.model.path;
    const path = thinned > 1 ? ` The path is drawn from one corner in ${thinned}.` : '';
    return group > 1 ? `${path} Lines are named to within ${group} moves.` : path;
  }

  exactness() {
    const { model } = this;
    const cells = (cell) => `cells of ${asLength(cell, model.units)}`;
    const coarse = model.map.step > 1 ? ', each as deep as its deepest point' : '';
    if (model.atEnd) return `True heights after the last stage, in ${cells(model.final.cell)}${coarse}.${this.thinned()}`;
    if (model.atMark) return `True heights at this marked moment, in ${cells(model.moments.cell)}.`;
    const [before, after] = model.between_.map(asTime);
    return `Drawn from the marked moments at ${before} and ${after}: what is cut more than once in between may be deeper.`;
  }
}

// ---------------------------------------------------------------- lists and links

function tieLinks(model) {
  document.addEventListener('click', (event) => {
    const link = event.target.closest('a');
    if (!link) return;
    const number = link.dataset.finding || link.dataset.flag;
    if (!number) return;
    choose(model, Number(number), Boolean(link.dataset.finding));
    if (link.dataset.finding) {
      event.preventDefault();
      byId('view-top').scrollIntoView({ block: 'nearest' });
      byId('top').focus({ preventScroll: true });
    }
  });
  matchMedia('(prefers-color-scheme: dark)').addEventListener('change', () => model.set(model.time));
}

function choose(model, number, show) {
  document.querySelectorAll('.chosen').forEach((element) => element.classList.remove('chosen'));
  byId(`finding-${number}`)?.classList.add('chosen');
  top_.chosen = number;
  if (show) top_.show(number); else top_.draw();
  solid?.draw();
}

async function start() {
  const data = JSON.parse(byId('data').textContent);
  if (!data.map) return;
  if (typeof DecompressionStream === 'undefined') {
    byId('trouble').hidden = false;
    byId('trouble').textContent = 'This browser is too old to unpack the map (it lacks DecompressionStream): '
      + 'the pictures were drawn beforehand, and all figures are in the tables below.';
    return;
  }
  const model = await Model.from(data);
  document.querySelectorAll('.live').forEach((element) => { element.hidden = false; });
  byId('top').hidden = false;
  byId('top-still').hidden = true;
  section = new Section(model);
  top_ = new TopView(model);
  top_.fit();
  new Timeline(model);
  startSolid(model);
  tieLinks(model);
  model.set(model.seconds);
  window.dryrunReport = { model, top: top_, section, solid };
  document.documentElement.dataset.ready = 'yes';
}

start().catch((error) => {
  byId('trouble').hidden = false;
  byId('trouble').textContent = `The live views could not be started: ${error.message}. The pictures were drawn beforehand.`;
  document.documentElement.dataset.ready = 'no';
});

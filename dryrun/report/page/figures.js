// Figures as the rest of dryrun writes them; the counterpart of units.py.

function written(value, factor, unit, decimals) {
  if (!Number.isFinite(value)) return 'not known';
  const number = value / factor;
  const size = Math.abs(number);
  if (size > 0 && size < 10 ** (1 - decimals)) {
    decimals = Math.min(12, 1 - Math.floor(Math.log10(size)));
  }
  let text = number.toFixed(decimals);
  if (text.includes('.')) text = text.replace(/0+$/, '').replace(/\.$/, '');
  return `${text === '-0' ? '0' : text} ${unit}`;
}

function asLength(mm, units) {
  return units === 'in' ? written(mm, 25.4, 'in', 4) : written(mm, 1, 'mm', 2);
}

function asTime(seconds) {
  if (Math.abs(seconds) < 9.95) return written(seconds, 1, 's', 1);
  const whole = Math.floor(seconds + 0.5);
  const parts = whole < 3600
    ? [[Math.floor(whole / 60), 'min'], [whole % 60, 's']]
    : [[Math.floor((whole + 30) / 3600), 'h'], [Math.floor((whole + 30) / 60) % 60, 'min']];
  return parts.filter(([n]) => n).map(([n, unit]) => `${n} ${unit}`).join(' ');
}

// The largest 1, 2 or 5 times a power of ten that is no more than `most`.
function niceLength(most) {
  const power = 10 ** Math.floor(Math.log10(most));
  return Math.max(...[1, 2, 5].map((k) => k * power).filter((v) => v <= most * (1 + 1e-9)));
}

const byId = (id) => document.getElementById(id);

const SVG = 'http://www.w3.org/2000/svg';

function drawn(name, attributes, words) {
  const element = document.createElementNS(SVG, name);
  for (const [key, value] of Object.entries(attributes)) element.setAttribute(key, value);
  if (words !== undefined) element.textContent = words;
  return element;
}

function themed(name) {
  return getComputedStyle(document.documentElement).getPropertyValue(name).trim();
}

// A map of heights: what a place is like, and its picture lit from the upper left.

const UNTOUCHED = 0.002;
const LIGHT = [-0.5, 0.5, 0.7071];

class Field {
  // heights: Float32Array, mm, row by row from the front; rows: 1 + row that cut the cell, 0 none.
  constructor(blank, cell, nx, ny, heights, rows, later) {
    Object.assign(this, { blank, cell, nx, ny, heights, rows, later });
  }

  // Index of the cell in which (x, y) lies, -1 off the blank.
  index(x, y) {
    const { low, high } = this.blank;
    if (!(x >= low[0] && x <= high[0] && y >= low[1] && y <= high[1])) return -1;
    const ix = Math.min(this.nx - 1, Math.floor((x - low[0]) / this.cell));
    const iy = Math.min(this.ny - 1, Math.floor((y - low[1]) / this.cell));
    return iy * this.nx + ix;
  }

  height(x, y) {
    const i = this.index(x, y);
    return i < 0 ? NaN : this.heights[i];
  }

  // The picture, back row first; through is drawn as paper.
  picture(colours) {
    const { nx, ny, heights, cell, blank } = this;
    const image = new ImageData(nx, ny);
    const pixels = image.data;
    const deepest = Math.max(blank.deepest, 1e-9);
    const ramp = rampOf(colours.scale);
    for (let iy = 0; iy < ny; iy++) {
      const back = iy < ny - 1 ? nx : 0, front = iy > 0 ? -nx : 0;
      const spanY = cell * ((back ? 1 : 0) + (front ? 1 : 0)) || 1;
      for (let ix = 0; ix < nx; ix++) {
        const i = iy * nx + ix;
        const right = ix < nx - 1 ? 1 : 0, left = ix > 0 ? -1 : 0;
        const z = heights[i];
        const depth = blank.top - z;
        let r, g, b;
        if (z <= blank.bed + 1e-6) [r, g, b] = colours.through;
        else {
          const sx = (heights[i + right] - heights[i + left]) / (cell * (right - left) || 1);
          const sy = (heights[i + back] - heights[i + front]) / spanY;
          const light = (-LIGHT[0] * sx - LIGHT[1] * sy + LIGHT[2]) / Math.sqrt(sx * sx + sy * sy + 1);
          const shade = 0.55 + 0.45 * Math.min(1.35, Math.max(0, light / LIGHT[2]));
          if (depth < UNTOUCHED) [r, g, b] = colours.uncut;
          else {
            const k = 3 * Math.min(255, Math.max(0, Math.round(255 * depth / deepest)));
            r = ramp[k]; g = ramp[k + 1]; b = ramp[k + 2];
          }
          r *= shade; g *= shade; b *= shade;
        }
        const p = 4 * ((ny - 1 - iy) * nx + ix);
        pixels[p] = r; pixels[p + 1] = g; pixels[p + 2] = b; pixels[p + 3] = 255;
      }
    }
    return image;
  }
}

// 256 colours from the shallowest to the deepest.
function rampOf(scale) {
  const ramp = new Float32Array(768);
  for (let k = 0; k < 256; k++) {
    const place = k / 255 * (scale.length - 1);
    const low = Math.min(scale.length - 2, Math.floor(place));
    for (let c = 0; c < 3; c++) {
      ramp[3 * k + c] = scale[low][c] + (place - low) * (scale[low + 1][c] - scale[low][c]);
    }
  }
  return ramp;
}

// Unpacking: base64, inflate, byte planes, running sums. The counterpart of html_pack.py.

async function inflated(text) {
  const bytes = Uint8Array.from(atob(text), (c) => c.charCodeAt(0));
  const stream = new Blob([bytes]).stream().pipeThrough(new DecompressionStream('deflate'));
  return new Uint8Array(await new Response(stream).arrayBuffer());
}

async function unpacked(packed) {
  const bytes = await inflated(packed.data);
  const { width, differences, shape } = packed;
  const count = bytes.length / width;
  // Numbers of five bytes are more than an integer array holds; sums stay within one modulus.
  const whole = width > 4 ? new Float64Array(count)
    : width > 2 ? new Uint32Array(count) : width > 1 ? new Uint16Array(count) : new Uint8Array(count);
  for (let i = 0; i < count; i++) {
    let value = 0;
    for (let k = 0; k < width; k++) value = value * 256 + bytes[k * count + i];
    whole[i] = value;
  }
  const modulus = 256 ** width;
  const nx = shape[shape.length - 1];
  if (differences > 1) {
    const plane = shape[shape.length - 2] * nx;
    for (let start = 0; start < count; start += plane) {
      for (let i = start + nx; i < start + plane; i++) whole[i] = (whole[i] + whole[i - nx]) % modulus;
    }
  }
  if (differences > 0) {
    for (let i = 0; i < count; i++) if (i % nx) whole[i] = (whole[i] + whole[i - 1]) % modulus;
  }
  return whole;
}

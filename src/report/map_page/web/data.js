// What the page holds, unpacked. Whole numbers in columns; places in steps of 1e-5 degrees.

/** Turns the packed text into columns and lines. Rejects where the browser cannot unpack. */
async function unpacked() {
  const text = document.getElementById("data").textContent;
  const packed = Uint8Array.from(atob(text), (c) => c.charCodeAt(0));
  const stream = new Blob([packed]).stream().pipeThrough(new DecompressionStream("deflate-raw"));
  const bytes = new Uint8Array(await new Response(stream).arrayBuffer());
  const length = new DataView(bytes.buffer).getUint32(0, true);
  const held = JSON.parse(new TextDecoder().decode(bytes.subarray(4, 4 + length)));
  // A telephone needs the room.
  document.getElementById("data").remove();
  const lines = new Lines(bytes.subarray(4 + length));
  const [roads, stops, places, outages, shores, pieces, gaps] = held.lines.map((count) => lines.several(count));
  return {
    ...held,
    lines: { roads, stops: stops.map(first), places: places.map(first), outages, shores, pieces, gaps },
    water: held.rings.map((rings) => lines.several(rings)),
    /** A text by its number; nothing for -1. */
    text: (number) => (number < 0 ? "" : held.strings[number]),
  };
}

const first = (line) => line[0];

/** Lines in few bytes: see `packed.rs`. */
class Lines {
  constructor(bytes) {
    this.bytes = bytes;
    this.at = 0;
    this.lon = 0;
    this.lat = 0;
  }
  number() {
    let value = 0;
    let times = 1;
    for (;;) {
      const byte = this.bytes[this.at++];
      value += (byte & 0x7f) * times;
      if (byte < 0x80) return value;
      times *= 128;
    }
  }
  step() {
    const number = this.number();
    return number % 2 ? -(number + 1) / 2 : number / 2;
  }
  line() {
    const count = this.number();
    const line = new Array(count);
    for (let i = 0; i < count; i++) {
      this.lon += this.step();
      this.lat += this.step();
      line[i] = [this.lon / 1e5, this.lat / 1e5];
    }
    return line;
  }
  several(count) {
    return Array.from({ length: count }, () => this.line());
  }
}

/** Metres between two places that are near each other (sphere of 6 371 km). */
function metresBetween(a, b) {
  const rad = Math.PI / 180;
  const away = b[0] - a[0] - Math.round((b[0] - a[0]) / 360) * 360;
  const x = away * rad * Math.cos(((a[1] + b[1]) / 2) * rad);
  const y = (b[1] - a[1]) * rad;
  return 6371000 * Math.hypot(x, y);
}

/** The place after some metres of a line. */
function along(line, metres) {
  let left = metres;
  for (let i = 1; i < line.length; i++) {
    const step = metresBetween(line[i - 1], line[i]);
    if (left <= step || i === line.length - 1) {
      const share = step > 0 ? Math.min(1, Math.max(0, left / step)) : 0;
      const [a, b] = [line[i - 1], line[i]];
      return [a[0] + (b[0] - a[0]) * share, a[1] + (b[1] - a[1]) * share];
    }
    left -= step;
  }
  return line[line.length - 1];
}

function lengthOf(line) {
  let sum = 0;
  for (let i = 1; i < line.length; i++) sum += metresBetween(line[i - 1], line[i]);
  return sum;
}

/** West, south, east, north of lines. */
function boxOf(lines) {
  const box = [Infinity, Infinity, -Infinity, -Infinity];
  for (const line of lines) {
    for (const [lon, lat] of line) {
      box[0] = Math.min(box[0], lon);
      box[1] = Math.min(box[1], lat);
      box[2] = Math.max(box[2], lon);
      box[3] = Math.max(box[3], lat);
    }
  }
  return box;
}

/** The place of a list that is nearest to a place: its number and metres. */
function nearestPlace(places, at) {
  let best = -1;
  let metres = Infinity;
  places.forEach((place, i) => {
    const away = metresBetween(place, at);
    if (away < metres) [best, metres] = [i, away];
  });
  return { number: best, metres };
}

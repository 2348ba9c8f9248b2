/** Makes a browser's picture small: at most 256 colours, which a drawn page hardly exceeds. */
import { crc32, deflateSync, inflateSync } from "node:zlib";

/** @param {Buffer} png 8 bits a channel, RGB or RGBA, not interlaced: what a browser writes @returns {Buffer} with a palette */
export function shrink(png) {
  const wide = png.readUInt32BE(16), tall = png.readUInt32BE(20), channels = png[25] === 6 ? 4 : 3;
  if (png[24] !== 8 || ![2, 6].includes(png[25]) || png[28]) return png;
  const data = [];
  for (let at = 8; at < png.length; at += 12 + png.readUInt32BE(at)) if (png.toString("latin1", at + 4, at + 8) === "IDAT") data.push(png.subarray(at + 8, at + 8 + png.readUInt32BE(at)));
  const pixels = unfilter(inflateSync(Buffer.concat(data)), wide * channels, tall, channels);
  for (let keep = 0xff; ; keep = (keep << 1) & 0xff) { // coarser until they are few
    /** @type {Map<number, number>} */ const colours = new Map();
    const out = Buffer.alloc((wide + 1) * tall);
    for (let i = 0, p = 0; i < wide * tall && colours.size <= 256; i++, p += channels) {
      const colour = ((pixels[p] & keep) << 16) | ((pixels[p + 1] & keep) << 8) | (pixels[p + 2] & keep);
      let index = colours.get(colour);
      if (index === undefined) colours.set(colour, index = colours.size);
      out[(wide + 1) * Math.floor(i / wide) + 1 + (i % wide)] = index;
    }
    if (colours.size > 256) continue;
    const lost = ~keep & 0xff;
    const palette = Buffer.from([...colours.keys()].flatMap((c) => [16, 8, 0].map((s) => ((c >> s) & 0xff) === keep ? 0xff : ((c >> s) & 0xff) + (lost >> 1))));
    const head = Buffer.from(png.subarray(16, 29));
    head[9] = 3;
    return Buffer.concat([png.subarray(0, 8), chunk("IHDR", head), chunk("PLTE", palette), chunk("IDAT", deflateSync(out, { level: 9 })), chunk("IEND", Buffer.alloc(0))]);
  }
}

/** @param {string} type @param {Buffer} body */
function chunk(type, body) {
  const out = Buffer.alloc(12 + body.length);
  out.writeUInt32BE(body.length);
  out.write(type, 4, "latin1");
  body.copy(out, 8);
  out.writeUInt32BE(crc32(out.subarray(4, 8 + body.length)), 8 + body.length);
  return out;
}

/** Undoes the filters of PNG (W3C PNG, 9.2). @param {Buffer} raw @param {number} line @param {number} tall @param {number} step */
function unfilter(raw, line, tall, step) {
  const out = Buffer.alloc(line * tall);
  for (let y = 0; y < tall; y++) {
    const filter = raw[y * (line + 1)];
    for (let x = 0; x < line; x++) {
      const a = x < step ? 0 : out[y * line + x - step], b = y ? out[(y - 1) * line + x] : 0, c = y && x >= step ? out[(y - 1) * line + x - step] : 0;
      const pa = Math.abs(b - c), pb = Math.abs(a - c), pc = Math.abs(a + b - 2 * c);
      const guess = [0, a, b, (a + b) >> 1, pa <= pb && pa <= pc ? a : pb <= pc ? b : c][filter];
      out[y * line + x] = raw[y * (line + 1) + 1 + x] + guess;
    }
  }
  return out;
}

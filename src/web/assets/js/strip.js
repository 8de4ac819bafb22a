// The chosen shaft laid out straight: base left, tip right, stretched across so that it can be seen.
import { t } from "./base.js";
import { walker } from "./viewer.js";

/** How many widths the strip shows across. */
const ACROSS = 3;

export class Strip {
  constructor(canvas, look) {
    this.canvas = canvas;
    canvas.addEventListener("pointermove", (event) => this.length && look((event.offsetX / canvas.clientWidth) * this.length));
    canvas.addEventListener("pointerleave", () => look(null));
  }
  show(viewer, shaft) {
    const { canvas } = this;
    const source = viewer.levels[0];
    const line = walker(shaft.centreline_px);
    this.length = line.length;
    this.drawn = null;
    const context = canvas.getContext("2d");
    context.clearRect(0, 0, canvas.width, canvas.height);
    if (!source) return;
    const half = Math.max(4, ((shaft.width.median_px ?? 8) * ACROSS) / 2);
    const xs = shaft.centreline_px.map((point) => point[0]);
    const ys = shaft.centreline_px.map((point) => point[1]);
    const left = Math.max(0, Math.floor(Math.min(...xs) - half));
    const top = Math.max(0, Math.floor(Math.min(...ys) - half));
    const width = Math.min(source.width, Math.ceil(Math.max(...xs) + half)) - left;
    const height = Math.min(source.height, Math.ceil(Math.max(...ys) + half)) - top;
    if (width < 1 || height < 1) return;
    // Long shafts are looked at smaller: the strip has no more columns anyway.
    const scale = Math.min(1, 1600 / Math.max(width, height));
    const sheet = new OffscreenCanvas(Math.max(1, Math.round(width * scale)), Math.max(1, Math.round(height * scale)));
    const ink = sheet.getContext("2d", { willReadFrequently: true });
    ink.drawImage(source, left, top, width, height, 0, 0, sheet.width, sheet.height);
    const pixels = new Uint32Array(ink.getImageData(0, 0, sheet.width, sheet.height).data.buffer);
    const strip = context.createImageData(canvas.width, canvas.height);
    const out = new Uint32Array(strip.data.buffer);
    for (let column = 0; column < canvas.width; column += 1) {
      const s = (line.length * column) / (canvas.width - 1);
      const [x, y] = line.at(s);
      const [dx, dy] = line.direction(s, Math.max(2, half / 2));
      for (let row = 0; row < canvas.height; row += 1) {
        const d = ((row + 0.5) / canvas.height - 0.5) * 2 * half;
        const px = Math.round((x - dy * d - left + 0.5) * scale - 0.5);
        const py = Math.round((y + dx * d - top + 0.5) * scale - 0.5);
        if (px >= 0 && py >= 0 && px < sheet.width && py < sheet.height) out[row * canvas.width + column] = pixels[py * sheet.width + px];
      }
    }
    context.putImageData(strip, 0, 0);
    this.drawn = strip;
    canvas.title = t("slide.strip", { n: ACROSS });
  }
  mark(s) {
    if (!this.drawn) return;
    const context = this.canvas.getContext("2d");
    context.putImageData(this.drawn, 0, 0);
    if (s === null) return;
    const x = Math.round((s / this.length) * this.canvas.width);
    context.fillStyle = "#111318";
    context.fillRect(x - 2, 0, 4, this.canvas.height);
    context.fillStyle = "#ffffff";
    context.fillRect(x - 1, 0, 2, this.canvas.height);
  }
}

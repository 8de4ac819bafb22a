// The photo at any zoom, with outlines over it. The picture is decoded once and halved until it is small, so that
// each frame draws about as many pixels as the screen has, whatever the photo's size.
import { COLOURS, DASHES } from "./base.js";

/** A level is halved until it is no longer than this. */
const SMALLEST_PX = 700;
/** Farthest in: this many screen pixels for one of the photo. */
const MOST_ZOOM = 16;

export class Viewer {
  /** `frame` holds the photo; `calls`: choose(id), place(point) while adding, hover(id). */
  constructor(frame, photo, overlay, calls) {
    Object.assign(this, { frame, photo, overlay, calls });
    this.levels = [];
    this.shafts = [];
    this.chosen = null;
    this.view = { x: 0, y: 0, zoom: 1 };
    this.outlines = true;
    this.adding = null;
    this.mark = null;
    this.pointers = new Map();
    new ResizeObserver(() => this.resize()).observe(frame);
    overlay.addEventListener("pointerdown", (event) => this.down(event));
    overlay.addEventListener("pointermove", (event) => this.move(event));
    overlay.addEventListener("pointerup", (event) => this.up(event));
    overlay.addEventListener("pointercancel", (event) => this.pointers.delete(event.pointerId));
    overlay.addEventListener("wheel", (event) => {
      event.preventDefault();
      this.zoomAt(Math.exp(-event.deltaY * 0.0015), event.offsetX, event.offsetY);
    }, { passive: false });
  }

  async show(blob) {
    const levels = [await createImageBitmap(blob)];
    this.size = { width: levels[0].width, height: levels[0].height };
    this.levels = levels;
    this.fit();
    for (let last = levels[0]; Math.max(last.width, last.height) > SMALLEST_PX; last = levels[levels.length - 1]) {
      levels.push(await createImageBitmap(last, { resizeWidth: Math.ceil(last.width / 2), resizeHeight: Math.ceil(last.height / 2), resizeQuality: "medium" }));
    }
    this.draw();
  }

  resize() {
    const ratio = window.devicePixelRatio || 1;
    const { width, height } = this.frame.getBoundingClientRect();
    for (const canvas of [this.photo, this.overlay]) {
      canvas.width = Math.max(1, Math.round(width * ratio));
      canvas.height = Math.max(1, Math.round(height * ratio));
    }
    this.ratio = ratio;
    if (this.size && !this.moved) this.fit();
    this.draw();
  }

  fit() {
    if (!this.size || !this.photo.width) return;
    const zoom = Math.min(this.photo.width / this.size.width, this.photo.height / this.size.height) / (this.ratio ?? 1);
    this.view = { zoom, x: this.size.width / 2, y: this.size.height / 2 };
    this.fitted = zoom;
    this.moved = false;
    this.draw();
  }
  zoomAt(factor, sx = this.width / 2, sy = this.height / 2) {
    const before = this.toPhoto(sx, sy);
    this.view.zoom = Math.min(MOST_ZOOM, Math.max((this.fitted ?? 0.01) * 0.5, this.view.zoom * factor));
    const after = this.toPhoto(sx, sy);
    this.pan(before.x - after.x, before.y - after.y);
  }
  pan(dx, dy) {
    this.moved = true;
    this.view.x = Math.min(this.size?.width ?? 0, Math.max(0, this.view.x + dx));
    this.view.y = Math.min(this.size?.height ?? 0, Math.max(0, this.view.y + dy));
    this.draw();
  }
  get width() { return this.photo.width / (this.ratio ?? 1); }
  get height() { return this.photo.height / (this.ratio ?? 1); }
  /** A place on the screen as a place of the photo: (0, 0) is the middle of the first pixel. */
  toPhoto(sx, sy) {
    return { x: (sx - this.width / 2) / this.view.zoom + this.view.x - 0.5, y: (sy - this.height / 2) / this.view.zoom + this.view.y - 0.5 };
  }
  toScreen([x, y]) {
    return [(x + 0.5 - this.view.x) * this.view.zoom + this.width / 2, (y + 0.5 - this.view.y) * this.view.zoom + this.height / 2];
  }

  setShafts(shafts) {
    this.shafts = shafts.map((shaft) => ({ ...shaft, path: outline(shaft), box: boxOf(shaft.centreline_px) }));
    this.draw();
  }
  choose(id, reveal = false) {
    this.chosen = id;
    const shaft = this.shafts.find((one) => one.id === id);
    if (shaft && reveal) {
      const [left, topPx, right, bottom] = shaft.box;
      const a = this.toScreen([left, topPx]);
      const b = this.toScreen([right, bottom]);
      if (b[0] < 20 || b[1] < 20 || a[0] > this.width - 20 || a[1] > this.height - 20) {
        this.moved = true;
        Object.assign(this.view, { x: (left + right) / 2, y: (topPx + bottom) / 2 });
      }
    }
    this.draw();
  }
  /** A place on the chosen shaft that is looked at, or none. */
  setMark(point) {
    this.mark = point;
    this.draw();
  }
  startAdding() {
    this.adding = { points: [], at: [this.view.x, this.view.y] };
    this.draw();
  }
  stopAdding() {
    this.adding = null;
    this.draw();
  }

  draw() {
    if (this.drawing) return;
    this.drawing = requestAnimationFrame(() => {
      this.drawing = null;
      this.drawPhoto();
      this.drawOverlay();
    });
  }
  drawPhoto() {
    const context = this.photo.getContext("2d", { alpha: false });
    context.setTransform(1, 0, 0, 1, 0, 0);
    context.fillStyle = "#0b0c12";
    context.fillRect(0, 0, this.photo.width, this.photo.height);
    if (!this.levels.length) return;
    const zoom = this.view.zoom * this.ratio;
    // The smallest level that still has a pixel for each of the screen's.
    let index = 0;
    while (index + 1 < this.levels.length && this.levels[index + 1].width / this.size.width >= zoom * 0.8) index += 1;
    const level = this.levels[index];
    const shrink = this.size.width / level.width;
    const from = this.toPhoto(0, 0);
    const left = Math.max(0, Math.floor((from.x + 0.5) / shrink));
    const topPx = Math.max(0, Math.floor((from.y + 0.5) / shrink));
    const width = Math.min(level.width - left, Math.ceil(this.width / this.view.zoom / shrink) + 2);
    const height = Math.min(level.height - topPx, Math.ceil(this.height / this.view.zoom / shrink) + 2);
    if (width <= 0 || height <= 0) return;
    const [x, y] = this.toScreen([left * shrink - 0.5, topPx * shrink - 0.5]);
    context.imageSmoothingEnabled = this.view.zoom < 3;
    context.drawImage(level, left, topPx, width, height, x * this.ratio, y * this.ratio, width * shrink * zoom, height * shrink * zoom);
  }
  drawOverlay() {
    const context = this.overlay.getContext("2d");
    context.setTransform(1, 0, 0, 1, 0, 0);
    context.clearRect(0, 0, this.overlay.width, this.overlay.height);
    if (!this.size) return;
    this.taken = [];
    if (this.outlines) for (const shaft of this.shafts) if (shaft.id !== this.chosen) this.drawShaft(context, shaft, false);
    const chosen = this.shafts.find((shaft) => shaft.id === this.chosen);
    if (chosen) this.drawShaft(context, chosen, true);
    context.setTransform(this.ratio, 0, 0, this.ratio, 0, 0);
    if (this.mark) this.drawMark(context, this.mark);
    if (this.adding) this.drawAdding(context);
  }
  drawShaft(context, shaft, chosen) {
    const { zoom } = this.view;
    const look = shaft.class;
    const light = look === "undetermined";
    // Shafts that are thin on the screen get thinner lines, so that they can be seen between them.
    const room = Math.min(1, Math.max(0.5, ((shaft.width.median_px ?? 8) * zoom) / 12));
    const weight = (look === "infected" ? 2.2 : 1.6) * (chosen ? 1.5 : 1) * room;
    const [ox, oy] = this.toScreen([0, 0]);
    const scale = zoom * this.ratio;
    context.setTransform(scale, 0, 0, scale, ox * this.ratio, oy * this.ratio);
    const stroke = (style, width, dash) => {
      context.strokeStyle = style;
      context.lineWidth = width / zoom;
      context.setLineDash(dash.map((length) => length / zoom));
      context.stroke(shaft.path);
    };
    stroke(light ? "rgba(255,255,255,.85)" : "rgba(0,0,0,.66)", weight + (chosen ? 3.4 : 2.4) * room, []);
    stroke(COLOURS[look], weight, DASHES[look].map((length) => length * (room < 0.8 ? 0.7 : 1)));
    context.setTransform(this.ratio, 0, 0, this.ratio, 0, 0);
    context.setLineDash([]);
    const line = shaft.centreline_px;
    const known = shaft.ends.orientation !== "unknown";
    if (known || chosen) {
      this.drawEnd(context, this.toScreen(line[0]), known ? "base" : "first", chosen, shaft.words);
      this.drawEnd(context, this.toScreen(line[line.length - 1]), known ? "tip" : "last", chosen, shaft.words);
    }
    const [x, y] = this.placeOfNumber(line);
    context.font = `${chosen ? "bold 15px" : "600 13px"} system-ui, sans-serif`;
    context.textAlign = "center";
    context.textBaseline = "middle";
    const text = String(shaft.id);
    const half = Math.max(9, context.measureText(text).width / 2 + 5);
    context.fillStyle = light ? "#ffffff" : "#111318";
    if (chosen) {
      context.strokeStyle = "#ffffff";
      context.lineWidth = 7;
      context.beginPath();
      context.roundRect(x - half, y - 10, 2 * half, 20, 6);
      context.stroke();
    }
    context.strokeStyle = COLOURS[look];
    context.lineWidth = chosen ? 3.5 : 1.5;
    context.beginPath();
    context.roundRect(x - half, y - 10, 2 * half, 20, 6);
    context.fill();
    context.stroke();
    context.fillStyle = light ? "#000000" : "#ffffff";
    context.fillText(text, x, y + 0.5);
  }
  /** Where a shaft's number stands: along it, in sight, and not on another number where that can be had. */
  placeOfNumber(line) {
    const places = [0.5, 0.38, 0.62, 0.28, 0.72, 0.18, 0.82].map((share) => this.toScreen(line[Math.round(share * (line.length - 1))]));
    const seen = places.filter(([x, y]) => x > 12 && y > 12 && x < this.width - 12 && y < this.height - 12);
    const free = seen.find(([x, y]) => this.taken.every(([tx, ty]) => Math.abs(tx - x) > 28 || Math.abs(ty - y) > 22));
    const place = free ?? seen[0] ?? places[0];
    this.taken.push(place);
    return place;
  }
  /** Base: a filled disc. Tip: an open triangle. Not known: a bar. With the word when chosen. */
  drawEnd(context, [x, y], kind, chosen, words) {
    context.lineWidth = 2;
    context.strokeStyle = "#111318";
    context.fillStyle = "#ffffff";
    context.beginPath();
    if (kind === "base") context.arc(x, y, chosen ? 6 : 4, 0, 2 * Math.PI);
    else if (kind === "tip") {
      const r = chosen ? 7 : 5;
      context.moveTo(x, y - r);
      context.lineTo(x + r, y + r);
      context.lineTo(x - r, y + r);
      context.closePath();
    } else context.rect(x - 4, y - 2, 8, 4);
    context.fill();
    context.stroke();
    if (chosen && words?.[kind]) {
      context.font = "600 13px system-ui, sans-serif";
      context.textAlign = x > this.width - 70 ? "right" : "left";
      context.textBaseline = "middle";
      context.lineWidth = 4;
      const at = x > this.width - 70 ? x - 10 : x + 10;
      context.strokeStyle = "#111318";
      context.strokeText(words[kind], at, y);
      context.fillStyle = "#ffffff";
      context.fillText(words[kind], at, y);
    }
  }
  drawMark(context, point) {
    const [x, y] = this.toScreen(point);
    for (const [style, width] of [["#111318", 5], ["#ffffff", 2]]) {
      context.strokeStyle = style;
      context.lineWidth = width;
      context.beginPath();
      context.arc(x, y, 9, 0, 2 * Math.PI);
      context.stroke();
    }
  }
  drawAdding(context) {
    const points = this.adding.points.map((point) => this.toScreen(point));
    for (const [style, width] of [["#111318", 5], ["#ffffff", 2]]) {
      context.strokeStyle = style;
      context.lineWidth = width;
      context.beginPath();
      points.forEach(([x, y], index) => (index ? context.lineTo(x, y) : context.moveTo(x, y)));
      context.stroke();
      for (const [x, y] of points) {
        context.beginPath();
        context.arc(x, y, 4, 0, 2 * Math.PI);
        context.stroke();
      }
      const [x, y] = this.toScreen(this.adding.at);
      context.beginPath();
      context.moveTo(x - 12, y);
      context.lineTo(x + 12, y);
      context.moveTo(x, y - 12);
      context.lineTo(x, y + 12);
      context.stroke();
    }
  }

  at(event) {
    const box = this.overlay.getBoundingClientRect();
    return [event.clientX - box.left, event.clientY - box.top];
  }
  down(event) {
    this.overlay.setPointerCapture(event.pointerId);
    this.pointers.set(event.pointerId, { at: this.at(event), from: this.at(event) });
    if (this.pointers.size === 1) this.dragged = false;
  }
  move(event) {
    const [x, y] = this.at(event);
    const pointer = this.pointers.get(event.pointerId);
    if (!pointer) {
      if (this.adding) {
        const place = this.toPhoto(x, y);
        this.adding.at = [place.x, place.y];
        this.draw();
      } else this.calls.hover?.(this.nearest(x, y));
      return;
    }
    if (this.pointers.size === 2) {
      const other = [...this.pointers.entries()].find(([id]) => id !== event.pointerId)[1];
      const before = Math.hypot(pointer.at[0] - other.at[0], pointer.at[1] - other.at[1]);
      const after = Math.hypot(x - other.at[0], y - other.at[1]);
      this.zoomAt(after / Math.max(1, before), (x + other.at[0]) / 2, (y + other.at[1]) / 2);
      this.dragged = true;
    } else {
      if (Math.hypot(x - pointer.from[0], y - pointer.from[1]) > 4) this.dragged = true;
      if (this.dragged) this.pan((pointer.at[0] - x) / this.view.zoom, (pointer.at[1] - y) / this.view.zoom);
    }
    pointer.at = [x, y];
  }
  up(event) {
    const [x, y] = this.at(event);
    this.pointers.delete(event.pointerId);
    if (this.dragged || this.pointers.size) return;
    if (this.adding) {
      const place = this.toPhoto(x, y);
      this.adding.at = [place.x, place.y];
      this.calls.place?.();
    } else this.calls.choose?.(this.nearest(x, y), this.toPhoto(x, y));
  }
  /** The shaft under a place on the screen, or none. */
  nearest(sx, sy) {
    const { x, y } = this.toPhoto(sx, sy);
    const reach = 9 / this.view.zoom;
    let best = null;
    for (const shaft of this.shafts) {
      const [left, topPx, right, bottom] = shaft.box;
      const within = (shaft.width.median_px ?? 4) / 2 + reach;
      if (x < left - within || x > right + within || y < topPx - within || y > bottom + within) continue;
      for (const [px, py] of shaft.centreline_px) {
        const distance = Math.hypot(px - x, py - y);
        if (distance < within && (!best || distance < best.distance)) best = { distance, id: shaft.id };
      }
    }
    return best?.id ?? null;
  }
}

function boxOf(line) {
  const xs = line.map((point) => point[0]);
  const ys = line.map((point) => point[1]);
  return [Math.min(...xs), Math.min(...ys), Math.max(...xs), Math.max(...ys)];
}

/** Place and direction at a distance along a line. */
export function walker(line) {
  const arc = [0];
  for (let i = 1; i < line.length; i += 1) arc.push(arc[i - 1] + Math.hypot(line[i][0] - line[i - 1][0], line[i][1] - line[i - 1][1]));
  const length = arc[arc.length - 1];
  const at = (s) => {
    let low = 0;
    let high = arc.length - 1;
    while (high - low > 1) {
      const middle = (low + high) >> 1;
      if (arc[middle] <= s) low = middle;
      else high = middle;
    }
    const step = arc[high] - arc[low] || 1;
    const share = (s - arc[low]) / step;
    return [line[low][0] + (line[high][0] - line[low][0]) * share, line[low][1] + (line[high][1] - line[low][1]) * share];
  };
  const direction = (s, reach) => {
    const a = at(Math.max(0, s - reach));
    const b = at(Math.min(length, s + reach));
    const norm = Math.hypot(b[0] - a[0], b[1] - a[1]) || 1;
    return [(b[0] - a[0]) / norm, (b[1] - a[1]) / norm];
  };
  const nearest = ([x, y]) => {
    let best = { distance: Infinity, s: 0 };
    line.forEach((point, index) => {
      const distance = Math.hypot(point[0] - x, point[1] - y);
      if (distance < best.distance) best = { distance, s: arc[index] };
    });
    return best;
  };
  return { length, at, direction, nearest };
}

/** The outline of a shaft in pixels of the photo: where a width was measured it lies there, between such places it is
 * carried over, without any it is the middle width. */
function outline(shaft) {
  const { at, direction, length } = walker(shaft.centreline_px);
  const middle = shaft.width.median_px ?? 6;
  const stations = shaft.station_at_px.length ? shaft.station_at_px : [0, length];
  const left = [];
  const right = [];
  let last = null;
  stations.forEach((s, index) => {
    last = shaft.width.profile_px[index] ?? last ?? middle;
    const [x, y] = at(s);
    const [dx, dy] = direction(s, Math.max(2, middle));
    left.push([x - dy * last / 2, y + dx * last / 2]);
    right.push([x + dy * last / 2, y - dx * last / 2]);
  });
  const path = new Path2D();
  [...left, ...right.reverse()].forEach(([x, y], index) => (index ? path.lineTo(x, y) : path.moveTo(x, y)));
  path.closePath();
  return path;
}

// Width and fluorescence along the chosen shaft, with one cursor for both, the strip and the photo.
import uPlot from "../vendor/uplot/uPlot.esm.js";
import { h, number, t, withSd } from "./base.js";

export class Profiles {
  constructor(place, look) {
    this.place = place;
    this.look = look;
    this.plots = [];
    this.said = h("p", { class: "detail", "aria-live": "off" });
    new ResizeObserver(() => this.plots.forEach((plot) => plot.setSize({ width: this.width(), height: HEIGHT }))).observe(place);
    for (const query of ["(prefers-color-scheme: dark)", "print"]) matchMedia(query).addEventListener("change", () => this.again?.());
    new MutationObserver(() => this.again?.()).observe(document.documentElement, { attributeFilter: ["data-colours"] });
  }
  width() {
    return Math.max(200, this.place.clientWidth || 320);
  }
  show(shaft, umPerPx, comparedWidth, comparedGlow) {
    this.again = () => this.show(shaft, umPerPx, comparedWidth, comparedGlow);
    for (const plot of this.plots) plot.destroy();
    const unit = umPerPx ?? 1;
    this.unit = unit;
    const name = umPerPx ? "µm" : "px";
    this.name = name;
    const at = shaft.station_at_px.map((s) => s * unit);
    this.at = shaft.station_at_px;
    this.shaft = shaft;
    this.place.replaceChildren();
    if (at.length < 2) {
      this.plots = [];
      this.place.append(h("p", {}, t("slide.noProfile")));
      return;
    }
    const scaled = (values) => values.map((value) => (value === null ? null : value * unit));
    const level = (value) => at.map(() => value);
    const one = (title, key, values, compared) => {
      const figure = h("figure", {}, h("figcaption", {}, title, compared === null ? "" : h("small", {}, t("slide.dashed"))));
      this.place.append(figure);
      const series = [values];
      if (compared !== null) series.push(level(compared));
      return new uPlot(this.options(key, series.length), [at, ...series], figure);
    };
    this.plots = [
      one(t("slide.widthAlong", { unit: name }), "width", scaled(shaft.width.profile_px), comparedWidth === null ? null : comparedWidth * unit),
      one(t("brightness.above"), "glow", shaft.glow.profile, comparedGlow),
    ];
    this.place.append(h("p", { class: "detail" }, t("slide.glowNote")), this.said);
    this.said.textContent = t("slide.alongWhere", { unit: name });
  }
  options(key, n) {
    const style = getComputedStyle(document.documentElement);
    const ink = style.getPropertyValue("--ink").trim();
    const line = style.getPropertyValue("--line").trim();
    const axis = { stroke: ink, grid: { stroke: line, width: 1 }, ticks: { stroke: line }, font: "12px system-ui", size: key === "" ? 0 : undefined };
    const series = [{}, { stroke: style.getPropertyValue(key === "width" ? "--plot-width" : "--plot-glow").trim(), width: 2, points: { show: false }, spanGaps: false }];
    if (n > 1) series.push({ stroke: ink, width: 1.5, dash: [6, 4], points: { show: false } });
    return {
      width: this.width(), height: HEIGHT, legend: { show: false }, scales: { x: { time: false }, y: { range: (_, low, high) => [Math.min(0, low), (high || 1) * 1.08] } },
      axes: [{ ...axis, size: 26 }, { ...axis, size: 52, values: (_, ticks) => ticks.map((tick) => number(tick)) }], series,
      cursor: { y: false, drag: { x: false, y: false }, sync: { key: "along" } },
      hooks: { setCursor: [(plot) => {
        if (this.marking) return;
        const index = plot.cursor.idx;
        this.look(index === null || index === undefined || plot.cursor.left < 0 ? null : this.at[index]);
      }] },
    };
  }
  mark(s) {
    if (!this.plots.length) return;
    this.marking = true;
    for (const plot of this.plots) plot.setCursor(s === null ? { left: -10, top: -10 } : { left: plot.valToPos(s * this.unit, "x"), top: 10 }, false);
    this.marking = false;
    if (s === null) return;
    let index = 0;
    this.at.forEach((place, i) => {
      if (Math.abs(place - s) < Math.abs(this.at[index] - s)) index = i;
    });
    const width = this.shaft.width.profile_px[index];
    const sd = this.shaft.width.profile_sd_px?.[index] ?? null;
    this.said.textContent = t("slide.alongAt", { at: number(s * this.unit), width: width === null ? "–" : withSd(width * this.unit, sd === null ? null : sd * this.unit, this.name), glow: number(this.shaft.glow.profile[index]) });
  }
}
/** Height of a plot, pixels. */
const HEIGHT = 130;

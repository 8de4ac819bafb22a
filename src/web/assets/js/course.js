// The course of each site: the share of hairs that look infected with its interval, and what else happened, by day.
import { day, h, percent, siteWords, t } from "./base.js";

const WIDTH = 520;
const HEIGHT = 210;
const LEFT = 66;
const RIGHT = 14;
const TOP = 14;
const BASE = 132;
const ROWS = { exam: 152, culture: 170, plate: 170, treatment: 188 };

export function courses(data) {
  const all = data.courses.filter((course) => course.points.some((point) => point.happening === "slide" || point.happening === "exam"));
  if (!all.length) return h("p", {}, t("course.none"));
  return h("div", {}, all.map((course) => one(course, data.today)), h("p", { class: "advice" }, h("strong", {}, t("advice.culture")), " ", t("course.advice")));
}

const time = (text) => Date.UTC(...text.split("-").map((part, index) => Number(part) - (index === 1 ? 1 : 0)));

function one(course, today) {
  const days = course.points.map((point) => time(point.day));
  const from = Math.min(...days);
  const to = Math.max(...days, time(today));
  const span = Math.max(1, to - from);
  const x = (text) => LEFT + 8 + ((time(text) - from) / span) * (WIDTH - LEFT - RIGHT - 16);
  const y = (share) => BASE - share * (BASE - TOP);
  const slides = course.points.filter((point) => point.happening === "slide" && point.infected);
  const marks = [];
  for (const share of [0, 0.5, 1]) marks.push(h("line", { class: "grid", x1: LEFT, x2: WIDTH - RIGHT, y1: y(share), y2: y(share) }), h("text", { class: "tick", x: LEFT - 6, y: y(share) + 4, "text-anchor": "end" }, percent(share)));
  for (const point of slides) marks.push(h("line", { class: "interval", x1: x(point.day), x2: x(point.day), y1: y(point.infected.low), y2: y(point.infected.high) }));
  if (slides.length > 1) marks.push(h("polyline", { class: "share", points: slides.map((point) => `${x(point.day)},${y(point.infected.n / point.infected.of)}`).join(" ") }));
  for (const point of slides) marks.push(h("circle", { class: "dot", cx: x(point.day), cy: y(point.infected.n / point.infected.of), r: 5 }, h("title", {}, words(point))));
  for (const point of course.points) {
    const at = x(point.day);
    const row = ROWS[point.happening];
    if (point.happening === "exam") marks.push(h("circle", { class: `exam ${point.fluorescence}`, cx: at, cy: row - 4, r: 5 }, h("title", {}, words(point))));
    if (point.happening === "culture") marks.push(h("path", { class: "culture", d: `M${at} ${row - 10}l6 6-6 6-6-6z` }, h("title", {}, words(point))));
    if (point.happening === "plate") marks.push(h("rect", { class: `plate ${point.growth}`, x: at - 5, y: row - 9, width: 10, height: 10 }, h("title", {}, words(point))));
    if (point.happening === "treatment") marks.push(h("rect", { class: "treatment", x: at, y: row - 8, width: Math.max(6, x(point.until ?? point.day) - at), height: 7 }, h("title", {}, words(point))));
  }
  for (const [key, row] of [["course.lamp", ROWS.exam], ["course.culture", ROWS.culture], ["course.treated", ROWS.treatment]]) marks.push(h("text", { class: "tick", x: LEFT - 6, y: row, "text-anchor": "end" }, t(key)));
  marks.push(h("text", { class: "tick", x: LEFT + 8, y: HEIGHT - 4 }, day(course.points[0].day)), h("text", { class: "tick", x: WIDTH - RIGHT, y: HEIGHT - 4, "text-anchor": "end" }, day(new Date(to).toISOString())));
  // A single day is no course, and a plot of it would say less than words.
  const several = new Set(days).size > 1;
  return h("figure", { class: "course" }, h("figcaption", {}, h("h3", {}, siteWords(course.site)), t(`course.${course.direction}`)),
    several && h("svg", { viewBox: `0 0 ${WIDTH} ${HEIGHT}`, role: "img", "aria-label": t("course.label", { site: siteWords(course.site) }) }, marks),
    h("details", { open: !several }, h("summary", {}, t(several ? "course.words" : "course.day")), h("ol", {}, course.points.map((point) => h("li", {}, `${day(point.day)}: ${words(point)}`)))));
}

/** How many hairs glow where: of all on the slide, also those that could not be judged. */
function glowing(zones) {
  const all = Object.entries(zones ?? {});
  const n = all.reduce((sum, [, some]) => sum + some, 0);
  return n ? t("course.zones", { n, zones: all.map(([zone, some]) => `${t(`zone.${zone}`)} ${some}`).join(", ") }) : "";
}
/** What happened, in words. */
function words(point) {
  switch (point.happening) {
    case "exam": return `${t("kind.exam")}: ${t("exam.fluorescence")} ${t(`answer.${point.fluorescence}`)}`;
    case "slide": return [point.infected ? t("course.share", { n: point.infected.n, of: point.infected.of, low: percent(point.infected.low), high: percent(point.infected.high) }) : t("course.unread"), glowing(point.zones)].filter(Boolean).join(" ");
    case "culture": return `${t("course.sent")}: ${point.medium}`;
    case "plate": return `${t("course.looked")}: ${t(`growth.${point.growth}`)}`;
    default: return `${t(`treatment.${point.kind}`)}: ${point.with}`;
  }
}

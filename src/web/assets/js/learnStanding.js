// How far a reader can be trusted: shares with intervals, what is confused with what, agreement, and how it went.
import { ask, choice, field, h, number, percent, t } from "./base.js";

const LOOKS = ["infected", "normal", "coated", "fibre", "undetermined"];

export async function standing(panel) {
  const { learners, between } = await ask("/learn/standing");
  panel.append(h("p", { class: "lead" }, t("learn.standing.lead")));
  if (learners.length === 0) {
    panel.append(h("p", { class: "panel" }, t("learn.standing.none")));
    return;
  }
  const mine = learners.findIndex((one) => one.learner === localStorage.getItem("desk.learner"));
  const place = h("div", {});
  const list = choice("reader", learners.map((one, index) => [String(index), one.learner]), String(Math.max(mine, 0)), { id: "reader" });
  const show = () => place.replaceChildren(...one(learners[Number(list.value)]));
  list.addEventListener("change", show);
  panel.append(h("div", { class: "fields" }, field(t("learn.standing.learner"), list)), place, h("section", { class: "panel" }, h("h2", {}, t("learn.standing.between")), agreed(between), h("p", { class: "hint" }, t("learn.standing.class"))));
  show();
}

const share = (one) => (one.n ? percent(one.right / one.n) : "–");
const interval = (one) => (one.low === null ? "–" : `${percent(one.low)} – ${percent(one.high)}`);
const kappa = (one) => `${number(one.kappa, 2)}${one.low === null ? "" : ` (95 %: ${number(one.low, 2)} – ${number(one.high, 2)})`}`;

function one({ learner, standing }) {
  const rows = [[t("learn.standing.all"), standing.look], ...standing.by_look.map((one, index) => [t(`learn.look.${LOOKS[index]}`), one]),
    [t("learn.standing.infectedOrNot"), standing.infected_or_not], [t("learn.standing.place"), standing.place], [t("learn.standing.base"), standing.base]];
  const table = h("div", { class: "scroll" }, h("table", {}, h("thead", {}, h("tr", {}, ["learn.standing.what", "learn.standing.share", "learn.standing.interval"].map((key) => h("th", { scope: "col" }, t(key))))),
    h("tbody", {}, rows.map(([words, value]) => h("tr", {}, h("th", { scope: "row" }, words), h("td", {}, share(value), " (", t("learn.standing.of", { right: value.right, n: value.n }), ")"), h("td", {}, interval(value)))))));
  const confusion = h("div", { class: "scroll", tabindex: 0, role: "region", "aria-label": t("learn.standing.confusion") }, h("table", { class: "confusion" }, h("thead", {}, h("tr", {}, h("th", { scope: "col" }, t("learn.standing.truly")),
    LOOKS.map((look) => h("th", { scope: "col" }, t("learn.standing.called", { look: t(`learn.look.${look}`) }))))),
  h("tbody", {}, standing.confusion.map((row, index) => h("tr", {}, h("th", { scope: "row" }, t(`learn.look.${LOOKS[index]}`)), row.map((n, column) => h("td", { class: column === index ? "n same" : "n" }, String(n))))))));
  const agreement = standing.kappa.kappa === null ? t("learn.standing.kappaNone") : t("learn.standing.kappa", { kappa: kappa(standing.kappa) });
  const file = `/api/learn/results?learner=${encodeURIComponent(learner)}`;
  return [h("section", { class: "panel" }, h("h2", {}, learner), h("p", {}, t("learn.standing.photos", { photos: standing.photos, shafts: standing.look.n }), " · ", h("a", { href: file, download: "" }, t("learn.standing.file"))), table),
    h("section", { class: "panel" }, h("h2", {}, t("learn.standing.confusion")), confusion, h("p", {}, agreement, " ", h("span", { class: "hint" }, t("learn.standing.kappaMeans")))),
    h("section", { class: "panel" }, h("h2", {}, t("learn.standing.curve")), curve(standing.curve))];
}

/** The learning curve: a point a step, with its interval; the same in words below. */
function curve(steps) {
  const [w, left, top, bottom] = [640, 44, 10, 150];
  const x = (index) => left + 30 + ((w - left - 60) * index) / Math.max(1, steps.length - 1);
  const y = (value) => bottom - (bottom - top) * value;
  const drawn = steps.map((one, index) => h("g", {}, h("line", { class: "interval", x1: x(index), x2: x(index), y1: y(one.low), y2: y(one.high) }), h("circle", { class: "dot", cx: x(index), cy: y(one.right / one.n), r: 5 })));
  return h("div", { class: "course" }, h("svg", { viewBox: `0 0 ${w} 165`, "aria-hidden": "true" },
    [0, 0.5, 1].map((value) => [h("line", { class: "grid", x1: left, x2: w, y1: y(value), y2: y(value) }), h("text", { class: "tick", x: left - 6, y: y(value) + 4, "text-anchor": "end" }, percent(value))]),
    h("polyline", { class: "share", points: steps.map((one, index) => `${x(index)},${y(one.right / one.n)}`).join(" ") }), drawn),
  h("ol", { class: "plain" }, steps.map((one, index) => h("li", {}, t("learn.standing.step", { n: index + 1, percent: share(one), right: one.right, all: one.n })))));
}

function agreed(between) {
  if (!between.all) return h("p", {}, t("learn.standing.betweenNone"));
  const name = (one) => t(one.kind === "fleiss" ? "learn.standing.fleiss" : "learn.standing.cohen");
  const pairs = between.readers.length > 2 ? h("ul", {}, between.pairs.map(([one, other, agreement]) => h("li", {}, `${one}, ${other}: ${kappa(agreement)}`))) : null;
  return h("div", {}, h("p", {}, t("learn.standing.betweenAll", { n: between.readers.length, shafts: between.all.shafts, kind: name(between.all), kappa: kappa(between.all) })), pairs);
}

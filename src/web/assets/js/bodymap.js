// A cat drawn in four views, our own drawings, with the sites that were looked at or that hair was taken from.
import { day, h, siteWords, t } from "./base.js";

/** Each view's drawing in a box of 200 by 160. */
const DRAWINGS = {
  face: ["M44 62L36 14Q62 22 78 42Q100 36 122 42Q138 22 164 14L156 62Q170 92 150 118Q126 144 100 146Q74 144 50 118Q30 92 44 62Z",
    "M62 72q10-10 20 0q-10 8-20 0zM118 72q10-10 20 0q-10 8-20 0z", "M92 96h16l-8 9zM100 105v9M100 114q-10 9-19 3M100 114q10 9 19 3", "M72 112L30 104M72 118L32 122M128 112L170 104M128 118L168 122"],
  left: ["M30 44Q22 40 24 28L30 34Q38 28 46 32L54 26Q56 38 52 46Q60 52 70 50Q110 40 146 54Q166 58 170 50Q178 40 190 52Q200 78 188 102Q183 88 184 68Q178 66 168 74Q172 96 164 112L166 146H150L146 118Q140 108 138 100Q104 108 82 98Q80 118 76 124L78 148H62L58 112Q52 88 52 68Q38 68 30 58Q24 54 30 44Z", "M34 42q3-3 6 0M28 52q4 3 7 2"],
  under: ["M100 6Q118 8 120 24Q142 22 150 8L160 14Q158 36 132 46Q136 80 132 108Q150 118 152 150L140 154Q134 138 118 132Q110 140 100 140Q90 140 82 132Q66 138 60 154L48 150Q50 118 68 108Q64 80 68 46Q42 36 40 14L50 8Q58 22 80 24Q82 8 100 6Z", "M100 140Q98 150 104 158"],
};
DRAWINGS.right = DRAWINGS.left;

export function bodyMap(sites, data) {
  const seen = new Map();
  for (const exam of data.exams) for (const one of exam.fact.sites) seen.set(one.site, { ...seen.get(one.site), fluorescence: one.fluorescence, loss: one.hair_loss, day: exam.fact.day });
  for (const { slide } of data.slides) seen.set(slide.fact.site, { ...seen.get(slide.fact.site), slide: slide.id, slideDay: slide.fact.day });
  const views = ["face", "left", "right", "under"].map((view) => {
    const at = (place) => [place.at[0] * 200, place.at[1] * 160];
    const own = sites.filter((place) => place.view === view);
    return h("figure", {}, h("svg", { viewBox: "-6 -6 212 172", role: "group", "aria-label": t(`map.${view}`) },
      h("g", { class: "cat", transform: view === "right" ? "translate(200 0) scale(-1 1)" : null }, DRAWINGS[view].map((d) => h("path", { d }))),
      own.filter((place) => !seen.has(place.name)).map((place) => h("circle", { class: "site", cx: at(place)[0], cy: at(place)[1], r: 2.4 })),
      own.filter((place) => seen.has(place.name)).map((place) => mark(place, at(place), seen.get(place.name)))), h("figcaption", {}, t(`map.${view}`)));
  });
  const listed = [...seen.entries()].map(([name, one]) => h("li", {}, h("svg", { class: "key", viewBox: "-9 -9 18 18", "aria-hidden": "true" }, sign(one)),
    one.slide ? h("a", { href: `/slides/${one.slide}` }, siteWords(name)) : siteWords(name), h("small", {}, ` ${wordsOf(one)}`)));
  return h("div", { class: "map" }, h("div", { class: "views" }, views), listed.length ? h("ul", { class: "plain" }, listed) : h("p", {}, t("map.none")));
}

function wordsOf(one) {
  return [one.fluorescence ? `${t("exam.fluorescence")} ${t(`answer.${one.fluorescence}`)} (${day(one.day)})` : null, one.slide ? t("map.slide", { day: day(one.slideDay) }) : null].filter(Boolean).join(", ");
}
/** Fluoresced: a filled disc. Not: a ring. Unsure: half. A slide: a square around it. */
function sign(one) {
  return [one.slide ? h("rect", { class: "taken", x: -8, y: -8, width: 16, height: 16, rx: 3 }) : null,
    one.fluorescence === "unsure" ? h("path", { class: "lit", d: "M0-5A5 5 0 0 0 0 5z" }) : null,
    one.fluorescence ? h("circle", { class: one.fluorescence === "yes" ? "lit" : "unlit", r: 5 }) : h("circle", { class: "dot", r: 2 })];
}
function mark(place, [x, y], one) {
  const inner = h("g", { class: "mark", transform: `translate(${x} ${y})` }, sign(one), h("title", {}, `${siteWords(place.name)}: ${wordsOf(one)}`));
  return inner;
}

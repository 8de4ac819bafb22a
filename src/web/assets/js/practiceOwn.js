// Photos of the house's own cases among those of practice, where somebody ticked the box: shown, asked, told, not kept.
import { ask, choice, field, h, t, trying } from "./base.js";

const LOOKS = ["infected", "normal", "coated", "fibre", "undetermined"];
const GROWN = ["grew", "nothing", "unknown"];

/** One photo in so many is the house's own. */
const EVERY = 3;

let shown = 0;
let turn = 0;

/** Shows an own photo when it is its turn and there is one; tells whether it did. `next` goes on. */
export async function showOwn(place, next) {
  shown += 1;
  if (shown % EVERY !== 0) return false;
  const { photos } = await ask("/learn/own?agreed=true");
  if (photos.length === 0) {
    place.replaceChildren(h("p", { class: "note" }, t("learn.own.none")), h("p", {}, h("button", { type: "button", class: "main", id: "next-photo", click: () => trying(next) }, t("learn.next"))));
    return true;
  }
  const number = photos[turn++ % photos.length];
  const item = await ask(`/learn/own/${number}?agreed=true`);
  const svg = h("svg", { viewBox: `0 0 ${item.width_px} ${item.height_px}`, "aria-hidden": "true" }, item.shafts.map((shaft) => {
    const [x, y] = shaft.tag_px;
    return h("g", {}, h("circle", { class: "tag", cx: x, cy: y, r: 18 }), h("text", { class: "tagWords", x, y: y + 7, "text-anchor": "middle" }, String(shaft.number)));
  }));
  const words = t("learn.own.photo", { item: item.item });
  const photo = h("figure", { class: "practicePhoto" }, h("div", {}, h("img", { src: `/api/learn/own/${number}/photo?agreed=true`, alt: words, width: item.width_px, height: item.height_px }), svg), h("figcaption", { class: "hint" }, words));
  const looks = item.shafts.map((shaft) => choice(`own-look-${shaft.number}`, [["", "–"], ...LOOKS.map((look) => [look, t(`learn.look.${look}`)])], ""));
  const grown = choice("own-grew", [["", "–"], ...GROWN.map((one) => [one, t(`learn.own.${one}`)])], "");
  const form = h("form", { class: "questions", submit: (event) => {
    event.preventDefault();
    trying(() => tellOwn(form, number, item, looks, grown, next));
  } }, item.shafts.map((shaft, index) => h("section", { class: "panel question" }, field(`${t("learn.shaft", { n: shaft.number })}: ${t("learn.look")}`, looks[index]))),
  h("section", { class: "panel question" }, field(t("learn.own.question"), grown)),
  h("p", {}, h("button", { class: "main", type: "submit", id: "show-truth" }, t("learn.own.show"))));
  place.replaceChildren(h("p", { class: "note" }, t("learn.own.lead")), h("div", { class: "practiceColumns" }, photo, form));
  photo.scrollIntoView({ block: "start" });
  return true;
}

async function tellOwn(form, number, item, looks, grown, next) {
  const told = await ask(`/learn/own/${number}/truth?agreed=true`);
  const said = (value, key) => (value ? t(`${key}.${value}`) : t("learn.nothingSaid"));
  const row = (name, value, answer) => h("tr", {}, h("th", { scope: "row" }, name), h("td", {}, value), h("td", {}, answer));
  const head = h("p", { class: "lead outcome", tabindex: -1 }, t("learn.own.told"));
  form.replaceChildren(head, h("section", { class: "panel question" }, h("table", {}, h("thead", {}, h("tr", {}, h("td", {}), h("th", { scope: "col" }, t("learn.own.held")), h("th", { scope: "col" }, t("learn.said")))),
    h("tbody", {}, told.shafts.map((shaft, index) => row(t("learn.shaft", { n: shaft.number }), t(`learn.look.${shaft.look}`), said(looks[index].value, "learn.look"))),
      row(t("learn.own.culture"), t(told.grew ? "learn.own.grew" : "learn.own.nothing"), said(grown.value, "learn.own"))))),
  h("p", {}, h("button", { type: "button", class: "main", id: "next-photo", click: () => trying(next) }, t("learn.next"))));
  head.focus();
}

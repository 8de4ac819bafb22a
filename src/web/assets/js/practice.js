// Practice: a drawn photo with numbered shafts, answers, then what is true and what the program measured.
import { Refusal, ask, by, capital, choice, field, h, language, lookMark, number, percent, say, t, tell, trying, withSd } from "./base.js";
import { showOwn } from "./practiceOwn.js";

const LOOKS = ["infected", "normal", "coated", "fibre", "undetermined"];
const PLACES = ["none", "base", "whole", "tip", "patchy", "unknown"];
const ENDS = ["a", "b", "unknown"];

/** Which plate of the atlas shows a shaft like this one. */
function plateOf(shaft) {
  const byKind = { base: "infected-early", "faint-base": "infected-early", whole: "infected-whole", faint: "infected-whole", "broken-short": "infected-broken", patchy: "infected-patchy", "tip-only": "tip-only", soap: "soap", ointment: "ointment", tetracycline: "tetracycline", food: "food", dander: "dander", white: "white", yellowed: "yellowed", banded: "tabby", black: "black", cotton: "cotton", "green-synthetic": "carpet", "bright-synthetic": "lint", "coloured-synthetic": "lint", "dull-synthetic": "lint" };
  const byBuild = { guard: "guard", awn: "awn", down: "down" };
  return byKind[shaft.kind] ?? (shaft.truth.look === "normal" ? byBuild[shaft.build] : null);
}

export function practice(panel) {
  const name = h("input", { type: "text", id: "learner", maxlength: 60, autocomplete: "nickname", value: localStorage.getItem("desk.learner") ?? by() });
  const level = choice("level", [1, 2, 3].map((n) => [String(n), t(`learn.level.${n}`)]), localStorage.getItem("desk.level") ?? "1", { id: "level" });
  const own = h("input", { type: "checkbox", id: "own-cases" });
  own.checked = localStorage.getItem("desk.ownCases") === "yes";
  const place = h("div", { id: "practice" });
  const begin = () => trying(async () => {
    if (!name.value.trim()) {
      name.focus();
      throw new Refusal(t("learn.who"));
    }
    localStorage.setItem("desk.learner", name.value.trim());
    localStorage.setItem("desk.level", level.value);
    localStorage.setItem("desk.ownCases", own.checked ? "yes" : "no");
    await show(place, name.value.trim(), level.value);
  });
  panel.append(h("p", { class: "lead" }, t("learn.practice.lead")),
    h("form", { class: "panel learner", submit: (event) => {
      event.preventDefault();
      begin();
    } }, h("div", { class: "fields" }, field(t("learn.name"), name, t("learn.nameHint")), field(t("learn.level"), level)),
    h("p", {}, h("label", {}, own, " ", t("learn.own.agree")), h("small", { class: "hint" }, " ", t("learn.own.agreeHint"))),
    h("button", { class: "main", type: "submit", id: "begin" }, t("learn.begin"))), place);
}

async function show(place, learner, level) {
  place.replaceChildren(h("p", { role: "status" }, t("learn.loading")));
  if (localStorage.getItem("desk.ownCases") === "yes" && await showOwn(place, () => show(place, learner, level))) return;
  const item = await ask(`/learn/next?learner=${encodeURIComponent(learner)}&level=${level}`);
  const rings = h("g", {});
  const svg = h("svg", { viewBox: `0 0 ${item.width_px} ${item.height_px}`, "aria-hidden": "true" }, rings, item.shafts.map((shaft) => marks(shaft, item)));
  const ring = (shaft) => rings.replaceChildren(...(shaft ? [line(shaft, "ringCasing"), line(shaft, "ring")] : []));
  const words = t("learn.photo", { item: item.item, width: number(item.width_px * item.um_per_px, 2), n: item.shafts.length });
  const photo = h("figure", { class: "practicePhoto" },
    h("div", {}, h("img", { src: `/api/learn/items/${item.item}/photo`, alt: words, width: item.width_px, height: item.height_px }), svg), h("figcaption", { class: "hint" }, words));
  const boxes = item.shafts.map((shaft) => question(shaft, () => ring(shaft)));
  const done = h("button", { class: "main", type: "submit", id: "show-truth" }, t("learn.show"));
  const form = h("form", { class: "questions", submit: (event) => {
    event.preventDefault();
    trying(() => answered(place, form, item, boxes, done, learner, level, ring));
  } }, boxes.map((box) => box.element), h("p", {}, done));
  place.replaceChildren(...[item.back ? h("p", { class: "note" }, t("learn.back")) : null, h("p", { class: "hint" }, t("learn.hint")), h("div", { class: "practiceColumns" }, photo, form)].filter(Boolean));
  photo.scrollIntoView({ block: "start" });
  ring(item.shafts[0]);
}

function line(shaft, kind) {
  return h("polyline", { class: kind, points: shaft.line_px.map((point) => point.join(",")).join(" ") });
}
function marks(shaft, item) {
  const line = shaft.line_px;
  const off = (end, before) => {
    const [dx, dy] = [end[0] - before[0], end[1] - before[1]];
    const length = Math.hypot(dx, dy) || 1;
    return [Math.min(item.width_px - 15, Math.max(15, end[0] + (22 * dx) / length)), Math.min(item.height_px - 15, Math.max(15, end[1] + (22 * dy) / length))];
  };
  const badge = ([x, y], text, r) => h("g", {}, h("circle", { class: "tag", cx: x, cy: y, r }), h("text", { class: "tagWords", x, y: y + 7, "text-anchor": "middle" }, text));
  const ends = [];
  if (shaft.ends_in_view[0]) ends.push(badge(off(line[0], line[1]), "A", 13));
  if (shaft.ends_in_view[1]) ends.push(badge(off(line[line.length - 1], line[line.length - 2]), "B", 13));
  return [badge(shaft.tag_px, String(shaft.number), 18), ...ends];
}

/** What is asked of one shaft; `look` is called when somebody turns to it. */
function question(shaft, look) {
  const group = (key, values, asked) => {
    if (!asked) return null;
    const name = `${key}-${shaft.number}`;
    return h("fieldset", { class: "choose" }, h("legend", {}, t(`learn.${key}`)), values.map((value) =>
      h("label", {}, h("input", { type: "radio", name, value }), h("span", {}, t(key === "place" ? `zone.${value}` : `learn.${key}.${value}`)))));
  };
  const ends = shaft.ends_in_view[0] || shaft.ends_in_view[1];
  const element = h("section", { class: "panel question", "data-shaft": shaft.number, focusin: look, pointerenter: look },
    h("h2", {}, t("learn.shaft", { n: shaft.number })), group("look", LOOKS, true), group("place", PLACES, true), group("base", ENDS, ends));
  element.querySelectorAll("fieldset")[1].append(h("small", {}, t("learn.placeHint")));
  const chosen = (key) => element.querySelector(`input[name="${key}-${shaft.number}"]:checked`)?.value;
  // What is not hair is not asked for the place of its glow, nor for a root.
  element.addEventListener("change", () => {
    for (const fieldset of [...element.querySelectorAll("fieldset")].slice(1)) fieldset.hidden = chosen("look") === "fibre";
  });
  return { element, shaft, answer: () => ({ shaft: shaft.number, look: chosen("look"), place: chosen("place") ?? null, base: chosen("base") ?? null }) };
}

async function answered(place, form, item, boxes, done, learner, level, ring) {
  const answers = boxes.map((box) => box.answer());
  const open = answers.findIndex((answer) => !answer.look);
  if (open >= 0) {
    boxes[open].element.querySelector("input").focus();
    throw new Refusal(t("learn.missing"));
  }
  done.disabled = true;
  let told;
  try {
    told = await tell(`/learn/items/${item.item}/answers`, { learner, answers });
  } catch (error) {
    done.disabled = false;
    throw error;
  }
  const right = told.shafts.filter((shaft) => shaft.look_right).length;
  const next = h("button", { type: "button", class: "main", id: "next-photo", click: () => trying(() => show(place, learner, level)) }, t("learn.next"));
  const head = h("p", { class: "lead outcome", tabindex: -1 }, h("strong", {}, t("learn.result", { right, n: told.shafts.length })), told.missed ? [" ", t("learn.comesBack")] : null);
  form.replaceChildren(head, ...told.shafts.map((shaft, index) => outcome(shaft, () => ring(boxes[index].shaft))), h("p", {}, next));
  say(t("learn.result", { right, n: told.shafts.length }));
  head.focus();
}

function outcome(shaft, look) {
  const row = (key, value, right, words) => {
    if (right === null) return null;
    return h("tr", {}, h("th", { scope: "row" }, t(`learn.${key}`)), h("td", {}, words(value(shaft.truth))), h("td", {}, value(shaft.answer) ? words(value(shaft.answer)) : t("learn.nothingSaid")),
      h("td", { class: right ? "right" : "missed" }, right ? `✓ ${t("learn.right")}` : `✗ ${t("learn.wrong")}`));
  };
  const plate = plateOf(shaft);
  const page = language === "es" ? `/atlas/plate-${plate}.es.html` : `/atlas/plate-${plate}.html`;
  const program = shaft.program;
  const drawn = number(shaft.width_um, 3);
  return h("section", { class: "panel question", "data-shaft": shaft.number, tabindex: -1, focusin: look, pointerenter: look },
    h("h2", {}, t("learn.shaft", { n: shaft.number }), " ", lookMark(shaft.truth.look)),
    h("table", {}, h("thead", {}, h("tr", {}, h("td", {}), h("th", { scope: "col" }, t("learn.truth")), h("th", { scope: "col" }, t("learn.said")), h("td", {}))),
      h("tbody", {}, row("look", (one) => one.look, shaft.look_right, (value) => t(`learn.look.${value}`)),
        row("place", (one) => one.place, shaft.place_right, (value) => t(`zone.${value}`)),
        row("base", (one) => one.base, shaft.base_right, (value) => t(`learn.base.${value}`)))),
    shaft.kind === "tip-only" ? h("p", { class: "note" }, t("learn.tipOnly")) : null,
    h("p", {}, h("strong", {}, t("learn.program"), ": "), program
      ? t(program.look === "undetermined" ? "learn.programCannot" : "learn.programSaid", { look: t(`look.${program.likeliest}`), percent: percent(program.probability), zone: t(`zone.${program.zone}`) })
      : t("learn.programNothing"), ". ",
    program?.width_um ? t("learn.programWidth", { measured: withSd(program.width_um, program.width_sd_um, "µm"), drawn }) : t("learn.drawnWidth", { drawn }), "."),
    program?.reasons[language].length ? h("details", {}, h("summary", {}, t("learn.why")), h("ul", {}, program.reasons[language].slice(0, 3).map((reason) =>
      h("li", {}, `${capital(reason)}.`)))) : null,
    plate ? h("p", {}, h("a", { class: "button", href: page, target: "_blank", rel: "noopener" }, t("learn.plateOf"))) : null);
}

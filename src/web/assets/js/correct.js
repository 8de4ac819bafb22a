// What a person says against a reading: looks, ends, comparison, missed shafts, parting and joining.
import { askName, day, field, h, lookMark, looks, say, t } from "./base.js";
import { walker } from "./viewer.js";

export function correcting(place, { state, parts, say: tell, takeBack }) {
  const why = h("input", { type: "text", maxlength: 300, value: t("correct.whyGiven") });
  const told = () => why.value.trim() || t("correct.whyGiven");
  const button = (key, act, attributes = {}) => h("button", { type: "button", click: act, ...attributes }, t(key));
  const body = h("div", {});
  const adding = h("div", { class: "adding", hidden: true });
  const section = h("details", { class: "correct", open: matchMedia("(min-width: 60rem)").matches },
    h("summary", {}, t("correct.title")), body, adding);
  place.append(section);
  const added = () => state.reading?.added ?? [];

  function show(shaft) {
    const parts_ = [state.demo ? null : askName()].filter(Boolean);
    if (shaft && added().includes(shaft.id)) parts_.push(h("p", { class: "person" }, t("correct.addedByPerson")));
    else if (shaft) parts_.push(...ofShaft(shaft));
    if (state.reading) parts_.push(h("p", { class: "row" }, button("correct.missed", start, { id: "missed" })), field(t("correct.why"), why));
    parts_.push(...history());
    body.replaceChildren(...parts_);
  }

  function ofShaft(shaft) {
    const id = shaft.id;
    const look = h("fieldset", { class: "looks" }, h("legend", {}, t("correct.look")), looks().map((name) =>
      h("button", { type: "button", "aria-pressed": String(shaft.class === name), "data-look": name,
        click: () => (shaft.class !== name || !state.reading.looks_by_people?.includes(id)) && tell([{ what: "look", shaft: id, look: name }], told()) }, lookMark(name), t(`look.${name}`))));
    const others = state.reading.evaluation.shafts.filter((one) => one.id !== id && !added().includes(one.id));
    const other = h("select", { "aria-label": t("correct.joinWith") }, others.map((one) => h("option", { value: one.id }, t("shaft.title", { n: one.id }))));
    return [look, h("p", { class: "row" },
      button("correct.turn", () => tell([{ what: "base-end", shaft: id, end: otherEnd(shaft) }], told())),
      button(shaft.comparison ? "correct.noComparison" : "correct.comparison", () => tell([{ what: "comparison", shaft: id, comparison: !shaft.comparison }], told())),
      button("correct.none", () => tell([{ what: "not-a-shaft", shaft: id }], told()))),
    h("details", {}, h("summary", {}, t("correct.partJoin")),
      h("p", { class: "row" }, button("correct.part", () => part(shaft))), h("p", { class: "hint" }, t("correct.partHint")),
      others.length ? h("p", { class: "row" }, other, button("correct.join", () => join(shaft, others.find((one) => one.id === Number(other.value))))) : null)];
  }

  /** Which end of the line as it was read first becomes the base: the record names ends by that line. */
  function otherEnd(shaft) {
    const told_ = (state.reading.corrections ?? []).filter((one) => one.change.what === "base-end" && one.change.shaft === shaft.id);
    const last = told_[told_.length - 1];
    return last?.change.end === "last" ? "first" : "last";
  }

  const points = (line) => line.map(([x, y]) => [Math.round(x * 10) / 10, Math.round(y * 10) / 10]);
  /** A line by few places, so that it is drawn to the shaft anew. */
  function places(line, from, to, width) {
    const walk = walker(line);
    const end = to ?? walk.length;
    const n = Math.max(2, Math.ceil((end - from) / Math.max(12, 3 * width)));
    return points(Array.from({ length: n + 1 }, (_, index) => walk.at(from + ((end - from) * index) / n)));
  }
  function part(shaft) {
    const s = state.at;
    const width = shaft.width.median_px ?? 8;
    const length = walker(shaft.centreline_px).length;
    if (s === null || s < 2 * width || s > length - 2 * width) return void say(t("correct.partWhere"), "wrong");
    return void tell([{ what: "not-a-shaft", shaft: shaft.id },
      { what: "missed-shaft", centreline_px: places(shaft.centreline_px, 0, s - width, width) },
      { what: "missed-shaft", centreline_px: places(shaft.centreline_px, s + width, length, width) }], told());
  }
  function join(one, other) {
    const a = one.centreline_px;
    const b = other.centreline_px;
    const gap = (p, q) => Math.hypot(p[0] - q[0], p[1] - q[1]);
    // The two ends that are nearest to each other meet.
    const ways = [[false, false], [false, true], [true, false], [true, true]].map(([turnA, turnB]) => {
      const first = turnA ? [...a].reverse() : a;
      const second = turnB ? [...b].reverse() : b;
      return { first, second, gap: gap(first[first.length - 1], second[0]) };
    }).sort((x, y) => x.gap - y.gap);
    const { first, second } = ways[0];
    const width = Math.max(one.width.median_px ?? 8, other.width.median_px ?? 8);
    tell([{ what: "not-a-shaft", shaft: one.id }, { what: "not-a-shaft", shaft: other.id },
      { what: "missed-shaft", centreline_px: [...places(first, 0, null, width), ...places(second, 0, null, width)] }], told());
  }

  /** What was said so far, each to be taken back. */
  function history() {
    const said = (state.reading?.corrections ?? []).filter((one) => one.change.what !== "field");
    if (!said.length) return [];
    return [h("h3", {}, t("correct.history")), h("ol", { class: "history" }, said.map((one) => h("li", {},
      h("span", {}, t(`change.${one.change.what}`, { n: one.change.shaft ?? "", look: one.change.look ? t(`look.${one.change.look}`) : "" }),
        h("small", {}, ` ${one.by}, ${day(one.at)}: ${one.why}`)),
      button("correct.back", () => takeBack(one), { class: "plain" }))))];
  }

  /** Begins to add a shaft that was missed. */
  function start() {
    parts.viewer.startAdding();
    const look = h("select", {}, [h("option", { value: "" }, t("correct.lookUnsaid")), ...looks().map((name) => h("option", { value: name }, t(`look.${name}`)))]);
    adding.replaceChildren(h("h3", {}, t("correct.adding")), h("p", {}, t("correct.addingHow")), field(t("correct.look"), look),
      h("p", { class: "row" }, button("correct.addingDone", () => finish(look.value), { id: "adding-done" }), button("correct.addingBack", undo), button("correct.addingStop", stop)));
    adding.hidden = false;
    body.hidden = true;
    finish.look = look;
    parts.overlay.focus();
    say(t("correct.addingHow"));
  }
  function placePoint() {
    parts.viewer.adding.points.push([...parts.viewer.adding.at]);
    parts.viewer.draw();
    say(t("correct.addingN", { n: parts.viewer.adding.points.length }));
  }
  function undo() {
    parts.viewer.adding?.points.pop();
    parts.viewer.draw();
  }
  function stop() {
    parts.viewer.stopAdding();
    adding.hidden = true;
    body.hidden = false;
  }
  async function finish(look) {
    const line = parts.viewer.adding?.points ?? [];
    if (line.length < 2) return void say(t("correct.addingFew"), "wrong");
    stop();
    await tell([{ what: "missed-shaft", centreline_px: points(line), ...(look ? { look } : {}) }], told());
    const ids = added();
    if (ids.length) parts.list.querySelector(`[data-shaft="${ids[ids.length - 1]}"]`)?.click();
    return undefined;
  }
  /** A key while adding: arrows move the cross, space sets a place, Enter ends. */
  function key(event) {
    const { viewer } = parts;
    const far = (event.shiftKey ? 40 : 8) / viewer.view.zoom;
    const moves = { ArrowLeft: [-far, 0], ArrowRight: [far, 0], ArrowUp: [0, -far], ArrowDown: [0, far] };
    if (moves[event.key]) {
      viewer.adding.at = [viewer.adding.at[0] + moves[event.key][0], viewer.adding.at[1] + moves[event.key][1]];
      viewer.draw();
    } else if (event.key === " ") placePoint();
    else if (event.key === "Enter") finish(finish.look.value);
    else if (event.key === "Backspace") undo();
    else if (event.key === "Escape") stop();
    else return false;
    return true;
  }
  return { show, place: placePoint, key };
}

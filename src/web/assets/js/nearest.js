// The two reference shafts that a shaft is most like, in words.
import { h, lookMark, number, t, tOr } from "./base.js";

/** A block for the page; nothing for readings that do not tell. */
export function nearest(shaft) {
  const near = shaft.nearest ?? [];
  if (!near.length) return [];
  const one = ({ look, kind, distance }) => h("li", {}, lookMark(look),
    ` ${t("nearest.one", { look: t(`look.${look}`), kind: tOr(`shaftKind.${kind}`, kind), distance: number(distance, 2) })}`);
  return [h("h3", {}, t("nearest.title")), h("ul", { class: "nearest" }, near.map(one)), h("p", { class: "detail" }, t("nearest.about"))];
}

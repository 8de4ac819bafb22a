// How things are done here, the keys, and the words.
import { h, lookMark, looks, t } from "./base.js";

const STEPS = 6;
const KEYS = ["arrows", "shift", "zoom", "whole", "add"];

export function fill(main) {
  main.append(h("h1", {}, t("help.title")), h("p", {}, h("a", { class: "button main", href: "/slides/demo?tour" }, t("first.go"))),
    h("section", { class: "panel" }, h("h2", {}, t("help.how")), h("ol", {}, Array.from({ length: STEPS }, (_, index) => h("li", {}, t(`help.${index + 1}`))))),
    h("section", { class: "panel" }, h("h2", {}, t("help.looks")), h("ul", { class: "plain" }, looks().map((look) => h("li", {}, lookMark(look), " ", h("strong", {}, t(`look.${look}`)), ": ", t(`look.${look}.means`))))),
    h("section", { class: "panel" }, h("h2", {}, t("help.keys")), h("dl", {}, KEYS.map((key) => [h("dt", {}, t(`key.${key}`)), h("dd", {}, t(`key.${key}.does`))]))));
}

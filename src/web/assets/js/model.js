// The model's card: what it was grown on, what it is worth, where it fails.
import { ask, h, language, t } from "./base.js";

export async function fill(main) {
  const { card, own, sha256, version } = await ask("/model");
  const body = h("div", { class: "card", lang: "en" });
  // Made by the desk from the program's own file, with anything that was HTML in it turned to text.
  body.append(...new DOMParser().parseFromString(card, "text/html").body.childNodes);
  for (const heading of body.querySelectorAll("h1")) heading.replaceWith(h("h2", {}, heading.textContent));
  for (const [index, table] of [...body.querySelectorAll("table")].entries()) {
    const box = h("div", { class: "scroll", tabindex: 0, role: "region", "aria-label": t("model.table", { n: index + 1 }) });
    table.replaceWith(box);
    box.append(table);
    for (const cell of table.querySelectorAll("[style]")) cell.removeAttribute("style");
  }
  const english = language === "en" ? [] : [h("p", {}, t("model.english"))];
  main.append(h("h1", {}, t("model.title")), h("p", {}, t("model.about"), " ", h("a", { href: "/cautions" }, t("nav.cautions"))),
    ...(own ? [h("p", {}, t("model.own"))] : []), ...english, body, h("p", { class: "detail" }, t("model.which", { version, sha256 })));
}

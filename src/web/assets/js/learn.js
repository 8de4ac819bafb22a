// Learning to see: the atlas, practice, and how far a reader can be trusted.
import { h, language, t, trying } from "./base.js";
import { practice } from "./practice.js";
import { standing } from "./learnStanding.js";

const PARTS = { atlas, practice, standing };

export function fill(main) {
  const panel = h("div", { id: "learning" });
  const buttons = Object.keys(PARTS).map((part) =>
    h("button", { type: "button", "data-part": part, click: () => (location.hash = part) }, t(`learn.tab.${part}`)));
  const show = () => {
    const part = PARTS[location.hash.slice(1)] ? location.hash.slice(1) : "atlas";
    for (const button of buttons) button.setAttribute("aria-pressed", String(button.dataset.part === part));
    panel.replaceChildren();
    return trying(() => PARTS[part](panel));
  };
  main.append(h("h1", {}, t("learn.title")), h("p", { class: "note" }, t("learn.simulated")),
    h("div", { class: "tabs", role: "group", "aria-label": t("learn.tabs") }, buttons), panel);
  addEventListener("hashchange", show);
  return show();
}

/** The atlas's own index, taken over as it is: its words are the program's. */
async function atlas(panel) {
  const home = language === "es" ? "/atlas/index.es.html" : "/atlas/index.html";
  panel.append(h("p", { class: "lead" }, t("learn.atlas.lead")), h("p", {}, h("a", { class: "button main", href: home }, t("learn.atlas.open"))));
  const index = new DOMParser().parseFromString(await (await fetch(home)).text(), "text/html");
  for (const part of index.querySelectorAll("main > h2, main > ul.plates")) {
    const taken = document.importNode(part, true);
    for (const link of taken.querySelectorAll("a")) link.setAttribute("href", `/atlas/${link.getAttribute("href")}`);
    for (const image of taken.querySelectorAll("img")) image.setAttribute("src", `/atlas/${image.getAttribute("src")}`);
    panel.append(taken);
  }
}

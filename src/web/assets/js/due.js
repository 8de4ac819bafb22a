// What is due, as a list on the start page and as a page.
import { ask, capital, day, h, language, t } from "./base.js";

export async function fill(main) {
  const { due, today } = await ask("/due");
  main.append(h("h1", {}, t("due.title")), h("p", {}, t("due.about")), dueList(due, today, true));
}

/** The list; with sources where asked for. */
export function dueList(due, today, sources = false) {
  if (!due.length) return h("p", {}, t("due.none"));
  return h("ul", { class: "due" }, due.map((one) => {
    const late = one.day < today ? "late" : one.day === today ? "today" : "later";
    return h("li", { class: late }, h("span", { class: "when" }, day(one.day), h("small", {}, t(`due.${late}`))),
      h("span", {}, h("a", { href: `/cases/${one.animal}` }, one.name), `: ${t(`due.${one.kind}`)}`, h("small", {}, capital(one.words[language])), sources ? h("small", {}, one.source_words[language]) : null));
  }));
}

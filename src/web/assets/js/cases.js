// All cases, searching, and beginning a new one.
import { ask, askName, choice, day, field, h, t, tell, trying } from "./base.js";

export async function fill(main) {
  const list = h("div", { "aria-live": "polite" });
  const words = h("input", { type: "search", name: "words", maxlength: 200 });
  const look = () => trying(async () => {
    const answer = await ask(`/cases?words=${encodeURIComponent(words.value)}`);
    list.replaceChildren(answer.found ? found(answer.found) : table(answer.cases));
  });
  main.append(h("h1", {}, t("cases.title")),
    h("form", { class: "row", role: "search", submit: (event) => {
      event.preventDefault();
      look();
    } }, field(t("cases.search"), words), h("button", { type: "submit" }, t("cases.go"))), list, begin());
  await look();
}

function found(all) {
  if (!all.length) return h("p", {}, t("cases.nothing"));
  return h("ul", { class: "cases" }, all.map((one) => h("li", {}, h("a", { href: `/cases/${one.animal}` }, one.name), " ",
    h("small", {}, `${t(`kind.${one.kind}`)}: ${one.words}${one.day ? ` · ${day(one.day)}` : ""}`))));
}

function table(cases) {
  if (!cases.length) return h("p", {}, t("start.noCase"));
  const head = ["cases.name", "cases.coat", "cases.group", "cases.intake", "kind.exam", "kind.slide", "kind.culture"];
  return h("div", { class: "scroll", tabindex: 0, role: "region", "aria-label": t("cases.title") }, h("table", { class: "list" },
    h("thead", {}, h("tr", {}, head.map((key) => h("th", { scope: "col" }, t(key))))),
    h("tbody", {}, cases.map((line) => h("tr", {}, h("th", { scope: "row" }, h("a", { href: `/cases/${line.id}` }, line.fact.name), line.withdrawn ? ` (${t("cases.withdrawn")})` : ""),
      h("td", {}, line.fact.coat_colour ?? "–"), h("td", {}, line.fact.group ?? "–"), h("td", {}, day(line.fact.intake)),
      ["exam", "slide", "culture"].map((kind) => h("td", { class: "n" }, String(line.counts[kind] ?? 0))))))));
}

function begin() {
  const name = h("input", { type: "text", required: true, maxlength: 120 });
  const coat = choice("coat", [["", "–"], ...["short", "medium", "long", "hairless"].map((one) => [one, t(`coat.${one}`)])], "");
  const age = choice("age", [["", "–"], ...["neonate", "kitten", "juvenile", "adult", "senior"].map((one) => [one, t(`age.${one}`)])], "");
  const sex = choice("sex", [["", "–"], ...["female", "male"].map((one) => [one, t(`sex.${one}`)])], "");
  const neuter = choice("neuter", [["", "–"], ...["neutered", "intact"].map((one) => [one, t(`neuter.${one}`)])], "");
  const colour = h("input", { type: "text", maxlength: 120 });
  const group = h("input", { type: "text", maxlength: 120 });
  const intake = h("input", { type: "date" });
  return h("section", { class: "panel" }, h("h2", {}, t("cases.new")), h("form", { submit: (event) => {
    event.preventDefault();
    trying(async () => {
      const kept = await tell("/cases", { name: name.value, coat_length: coat.value || null, coat_colour: colour.value || null, age_class: age.value || null, sex: sex.value || null, neuter: neuter.value || null,
        group: group.value || null, intake: intake.value || null });
      location.assign(`/cases/${kept.id}`);
    });
  } }, h("div", { class: "fields" }, askName(), field(t("cases.name"), name), field(t("cases.coat"), colour), field(t("cases.length"), coat), field(t("cases.age"), age), field(t("cases.sex"), sex), field(t("cases.neuter"), neuter),
    field(t("cases.group"), group), field(t("cases.intake"), intake)), h("p", {}, h("button", { type: "submit", class: "main" }, t("cases.begin")))));
}

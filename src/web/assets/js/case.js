// Everything about one animal: body map, exams, slides, courses, cultures, what is due.
import { ask, askName, day, h, lookMark, looks, siteWords, t, tell, trying } from "./base.js";
import { bodyMap } from "./bodymap.js";
import { courses } from "./course.js";
import { dueList } from "./due.js";
import { forms, plateForm } from "./forms.js";

export async function fill(main) {
  main.classList.add("wide");
  const id = location.pathname.split("/").pop();
  const reference = await ask("/reference");
  const content = h("div", {});
  main.append(content);
  const show = async () => {
    const data = await ask(`/cases/${id}`);
    document.title = `${data.animal.fact.name} · Pilumen`;
    const who = askName();
    content.replaceChildren(head(data), ...(who ? [h("section", { class: "panel" }, who)] : []), h("div", { class: "columns" },
      h("div", {}, panel("case.map", bodyMap(reference.sites, data)), panel("case.due", dueList(data.due, data.today)),
        panel("case.add", forms(data, reference, show))),
      h("div", {}, panel("case.slides", slides(data)), panel("case.courses", courses(data)), panel("case.cultures", cultures(data, show)),
        panel("case.exams", exams(data)), panel("case.treatments", treatments(data)), panel("case.notes", notes(data)))));
  };
  await show();
}

function panel(key, ...children) {
  return h("section", { class: "panel", id: key.replace(".", "-") }, h("h2", {}, t(key)), ...children);
}

function head({ animal }) {
  const fact = animal.fact;
  const known = [fact.coat_colour, fact.coat_length && t(`coat.${fact.coat_length}`), fact.age_class && t(`age.${fact.age_class}`), fact.sex && t(`sex.${fact.sex}`), fact.neuter && t(`neuter.${fact.neuter}${fact.sex === "female" ? ".female" : ""}`), fact.group,
    ...fact.identifiers.map((one) => `${one.kind} ${one.value}`), fact.intake && t("case.since", { day: day(fact.intake) })].filter(Boolean);
  return h("div", { class: "head" }, h("div", {}, h("h1", {}, fact.name, animal.withdrawn ? ` (${t("cases.withdrawn")})` : ""), h("p", { class: "where" }, known.join(" · "))),
    h("p", { class: "row files" }, h("a", { class: "button", href: `/api/cases/${animal.id}/pack`, download: true }, t("case.pack")),
      h("button", { type: "button", click: () => window.print() }, t("file.print"))));
}

function slides({ slides: all }) {
  if (!all.length) return h("p", {}, t("case.noSlide"));
  return h("ul", { class: "slides" }, [...all].reverse().map(({ slide, photos, shafts, findings }) => {
    const counts = Object.fromEntries(looks().map((look) => [look, shafts.filter((shaft) => shaft.look === look).length]));
    const link = photos.length ? `/slides/${slide.id}` : `/slides/${slide.id}`;
    return h("li", {}, h("a", { href: link, class: "thumb", tabindex: -1, "aria-hidden": "true" }, photos.length
      ? h("img", { src: `/api/photos/${photos[0].id}/small`, alt: "", loading: "lazy", width: 132, height: 88 }) : h("span", { class: "none" }, t("case.noPhoto"))),
    h("div", {}, h("a", { href: link }, `${siteWords(slide.fact.site)}, ${day(slide.fact.day)}`), h("small", {}, [slide.fact.label, t("case.photos", { n: photos.length })].filter(Boolean).join(" · ")),
      findings.length ? h("p", {}, findings.map((code) => t(`finding.${code}`)).filter((text, index, texts) => texts.indexOf(text) === index).join(" ")) : h("p", {}, t("case.notRead")),
      h("p", { class: "counts" }, looks().filter((look) => counts[look]).map((look) => h("span", {}, lookMark(look), ` ${counts[look]} ${t(`look.${look}`)}`)))));
  }));
}

function cultures({ cultures: all }, show) {
  if (!all.length) return h("p", {}, t("case.noCulture"));
  return h("ul", { class: "plain" }, all.map(({ culture, plates }) => h("li", {}, h("strong", {}, `${day(culture.fact.day)}: ${culture.fact.medium}`),
    culture.fact.site ? ` · ${siteWords(culture.fact.site)}` : ` · ${t("case.wholeCoat")}`,
    h("ul", {}, plates.map((plate) => h("li", {}, `${day(plate.fact.day)}: ${t(`growth.${plate.fact.growth}`)}`, plate.fact.species ? `, ${plate.fact.species}` : "", plate.fact.last ? ` (${t("plate.last")})` : ""))),
    plates.some((plate) => plate.fact.last) ? null : plateForm(culture.id, show))));
}

function exams({ exams: all }) {
  if (!all.length) return h("p", {}, t("case.noExam"));
  return h("ul", { class: "plain" }, [...all].reverse().map((exam) => h("li", {}, h("strong", {}, day(exam.fact.day)), exam.fact.lamp_nm ? ` · ${exam.fact.lamp_nm} nm` : "",
    h("ul", {}, exam.fact.sites.length ? exam.fact.sites.map((seen) => h("li", {}, `${siteWords(seen.site)}: ${t("exam.fluorescence")} ${t(`answer.${seen.fluorescence}`)}`,
      seen.colour ? ` (${seen.colour})` : "", seen.hair_loss ? `, ${t("exam.hairLoss")} ${t(`answer.${seen.hair_loss}`)}` : "")) : h("li", {}, t("exam.nothing"))),
    exam.fact.remark ? h("p", {}, exam.fact.remark) : null)));
}

function treatments({ treatments: all, contacts }) {
  const rows = [...all.filter((one) => !one.withdrawn).map((one) => h("li", {}, `${day(one.fact.day)}${one.fact.until ? ` – ${day(one.fact.until)}` : ""}: ${t(`treatment.${one.fact.kind}`)}, ${one.fact.with}`)),
    ...contacts.filter((one) => !one.withdrawn).map((one) => h("li", {}, `${day(one.fact.day)}: ${t("case.contact", { name: one.fact.with })}`, one.fact.how ? ` (${one.fact.how})` : ""))];
  return rows.length ? h("ul", { class: "plain" }, rows) : h("p", {}, t("case.noTreatment"));
}

function notes({ notes: all, animal }) {
  const text = h("textarea", { rows: 2, maxlength: 4000, "aria-label": t("case.note") });
  const list = h("ul", { class: "plain" }, all.filter((one) => !one.withdrawn).map((note) => h("li", {}, note.fact.text, h("small", {}, ` ${note.by}, ${day(note.at)}`))));
  return h("div", {}, list, h("form", { class: "row", submit: (event) => {
    event.preventDefault();
    trying(async () => {
      const kept = await tell(`/facts/${animal.id}/notes`, { text: text.value });
      list.append(h("li", {}, kept.fact.text, h("small", {}, ` ${kept.by}, ${day(kept.at)}`)));
      text.value = "";
    });
  } }, text, h("button", { type: "submit" }, t("case.keep"))));
}

// The first page: photos in, what waits, what is due, which cases were last begun.
import { Refusal, ask, askName, by, choice, day, field, h, jobWords, siteWords, t, tell, trying, whoIsKnown } from "./base.js";
import { dueList } from "./due.js";
import { uploads } from "./upload.js";

export async function fill(main) {
  const [start, reference] = await Promise.all([ask("/start"), ask("/reference")]);
  if (!by() && start.by) localStorage.setItem("desk.by", start.by);
  main.append(h("h1", {}, t("start.title")));
  if (start.read_only) main.append(h("p", { class: "note wrong" }, t("start.readOnly")));
  if (!localStorage.getItem("desk.toured")) main.append(first());
  main.append(h("div", { class: "columns" },
    h("section", { class: "panel photos" }, h("h2", {}, t("start.photos")), intake(start, reference)),
    h("div", {}, queue(start.queue),
      h("section", { class: "panel" }, h("h2", {}, t("start.due")), dueList(start.due, start.today), h("p", {}, h("a", { href: "/due" }, t("start.allDue")))),
      h("section", { class: "panel" }, h("h2", {}, t("start.cases")), cases(start)))));
}

/** For who is here for the first time. */
function first() {
  const card = h("section", { class: "panel first" }, h("div", {}, h("h2", {}, t("first.title")), h("p", {}, t("first.text")),
    h("p", { class: "row" }, h("a", { class: "button main", href: "/slides/demo?tour" }, t("first.go")),
      h("button", { type: "button", class: "plain", click: () => {
        localStorage.setItem("desk.toured", "yes");
        card.remove();
      } }, t("first.no")))), picture());
  return card;
}
/** A shaft with its outline, base and tip: what the program does in one drawing. */
function picture() {
  return h("svg", { viewBox: "0 0 240 120", class: "sketch", role: "img", "aria-label": t("first.picture") },
    h("rect", { width: 240, height: 120, rx: 10, fill: "#14152b" }),
    h("path", { d: "M22 96C80 92 150 66 218 22", fill: "none", stroke: "#78cfa0", "stroke-width": 12, "stroke-linecap": "round", opacity: 0.85 }),
    h("path", { d: "M21 103C83 98 154 72 222 28M22 89C77 85 146 60 214 16", fill: "none", stroke: "#ff8a3d", "stroke-width": 2.5 }),
    h("circle", { cx: 22, cy: 96, r: 6, fill: "#fff", stroke: "#111318", "stroke-width": 2 }),
    h("path", { d: "M218 12l8 15h-16z", fill: "#fff", stroke: "#111318", "stroke-width": 2 }),
    h("rect", { x: 108, y: 60, width: 22, height: 20, rx: 6, fill: "#111318", stroke: "#ff8a3d", "stroke-width": 2 }),
    h("text", { x: 119, y: 75, fill: "#fff", "text-anchor": "middle", "font-size": 14, "font-family": "system-ui" }, "1"));
}

/** Whose hairs, from where, since when; then the photos. */
function intake(start, reference) {
  const name = h("input", { type: "text", id: "animal", list: "animals", autocomplete: "off", maxlength: 120, value: localStorage.getItem("desk.animal") ?? "" });
  const known = h("datalist", { id: "animals" }, start.cases.map((line) => h("option", { value: line.fact.name })));
  const site = choice("site", [["", t("start.choose")], ...reference.sites.map((place) => [place.name, siteWords(place.name)])], "", { id: "site" });
  const date = h("input", { type: "date", value: start.today, max: start.today });
  const made = {};
  const slide = async () => {
    if (!whoIsKnown()) throw new Refusal(t("said.who"));
    if (!name.value.trim() || !site.value) {
      (name.value.trim() ? site : name).focus();
      throw new Refusal(t("start.whose"));
    }
    const key = JSON.stringify([name.value.trim(), site.value, date.value]);
    if (made[key]) return made[key];
    const animal = await animalOf(name.value.trim());
    localStorage.setItem("desk.animal", name.value.trim());
    const kept = await tell(`/cases/${animal}/slides`, { site: site.value, day: date.value });
    made[key] = kept.id;
    return kept.id;
  };
  return h("div", {}, h("div", { class: "fields" }, askName(), field(t("start.animal"), name), known, field(t("start.site"), site, t("start.siteHint")), field(t("start.day"), date)),
    uploads({ slide, done: (id) => location.assign(`/slides/${id}`) }));
}

/** The id of the animal of this name; a new case where there is none. */
async function animalOf(name) {
  const { cases } = await ask("/start");
  const fits = cases.filter((line) => line.fact.name.toLowerCase() === name.toLowerCase());
  if (fits.length === 1) return fits[0].id;
  const { found } = await ask(`/cases?words=${encodeURIComponent(name)}`);
  const animals = (found ?? []).filter((one) => one.kind === "animal" && one.name.toLowerCase() === name.toLowerCase());
  if (animals.length > 1 || fits.length > 1) throw new Refusal(t("start.several", { name }));
  return animals[0]?.animal ?? (await tell("/cases", { name })).id;
}

/** What waits, with a way to take it out; follows the news. */
function queue(jobs) {
  const known = new Map(jobs.map((job) => [job.photo, job]));
  const list = h("ul", { class: "queue" });
  const section = h("section", { class: "panel", "aria-label": t("queue.title") }, h("h2", {}, t("queue.title")), list);
  const show = () => {
    const shown = [...known.values()].filter((job) => job.state !== "cancelled").reverse().slice(0, 8);
    section.hidden = shown.length === 0;
    list.replaceChildren(...shown.map((job) => h("li", { class: job.state }, h("a", { href: `/slides/${job.slide}?photo=${job.photo}` }, job.file), " ",
      h("span", { class: "state" }, t(`queue.${job.state}`)),
      job.sentence ? h("small", {}, ` ${jobWords(job)}`) : null,
      job.state === "waiting" || job.state === "reading" ? h("button", { type: "button", class: "plain", "aria-label": t("queue.cancelOf", { file: job.file }),
        click: () => trying(() => tell(`/queue/${job.photo}/cancel`)) }, t("queue.cancel")) : null)));
  };
  document.addEventListener("desk-job", (event) => {
    if (event.detail) known.set(event.detail.photo, event.detail);
    show();
  });
  show();
  return section;
}

function cases(start) {
  if (!start.cases.length) return h("p", {}, t("start.noCase"));
  return h("div", {}, h("ul", { class: "cases" }, start.cases.map((line) => h("li", {}, h("a", { href: `/cases/${line.id}` }, line.fact.name), " ",
    h("small", {}, [line.fact.group, t("cases.slides", { n: line.counts.slide ?? 0 }), line.fact.intake ? day(line.fact.intake) : null].filter(Boolean).join(" · "))))),
  start.n_cases > start.cases.length ? h("p", {}, h("a", { href: "/cases" }, t("start.allCases", { n: start.n_cases }))) : null);
}

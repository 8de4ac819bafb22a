// What all pages share: elements, words, asking and telling the desk.

/** An element; attributes that are functions are listeners, `null` and `false` are left out. Text is never HTML. */
export function h(name, attributes = {}, ...children) {
  const svg = SVG_NAMES.has(name);
  const element = svg ? document.createElementNS("http://www.w3.org/2000/svg", name) : document.createElement(name);
  for (const [key, value] of Object.entries(attributes ?? {})) {
    if (value === null || value === undefined || value === false) continue;
    if (typeof value === "function") element.addEventListener(key, value);
    else if (key === "value" && !svg && name !== "option" && name !== "li") element.value = value;
    else element.setAttribute(key, value === true ? "" : value);
  }
  element.append(...children.flat(3).filter((child) => child !== null && child !== undefined && child !== false));
  return element;
}
const SVG_NAMES = new Set(["svg", "path", "circle", "rect", "line", "g", "text", "title", "ellipse", "polyline", "polygon", "filter", "feColorMatrix", "defs"]);

let words = {};
/** The language of the page. */
export let language = "en";

export async function loadWords() {
  const chosen = localStorage.getItem("desk.language") ?? (navigator.language.startsWith("es") ? "es" : "en");
  language = LANGUAGES[chosen] ? chosen : "en";
  words = await (await fetch(`/files/text/${language}.json`)).json();
  document.documentElement.lang = language;
}
export const LANGUAGES = { en: "English", es: "Español" };

/** Words by key, with what stands in braces filled in. A key without words shows itself: a test holds that none does. */
export function t(key, values = {}) {
  const text = words[key] ?? key;
  return text.replace(/\{(\w+)\}/g, (all, name) => (name in values ? String(values[name]) : all));
}
/** The same, or what is given where there are no such words. */
export function tOr(key, otherwise) {
  return words[key] ?? otherwise;
}

/** A number as the language writes it, with so many digits that count; a dash when absent. */
export function number(value, digits = 3) {
  if (value === null || value === undefined || !Number.isFinite(value)) return "–";
  return new Intl.NumberFormat(language, { maximumSignificantDigits: digits }).format(value);
}
/** Decimals that a standard uncertainty is worth, and at most so many: the program's own rule. */
function decimals(sd, most) {
  return Math.min(most, Math.max(0, 1 - Math.floor(Math.log10(Math.max(sd, 1e-9)))));
}
function fixed(value, places) {
  return new Intl.NumberFormat(language, { minimumFractionDigits: places, maximumFractionDigits: places, useGrouping: false }).format(value);
}
/** A value with its standard uncertainty, where known, and its unit; to hundredths unless told otherwise. */
export function withSd(value, sd, unit, most = 2) {
  if (value === null || value === undefined || !Number.isFinite(value)) return "–";
  if (sd === null || sd === undefined || !Number.isFinite(sd)) return `${fixed(value, 1)} ${unit}`;
  const places = decimals(sd, most);
  return `${fixed(value, places)} ± ${fixed(sd, places)} ${unit}`;
}
/** A setup's scale in words. */
export function scaleWords(setup) {
  return withSd(setup.um_per_px, setup.um_per_px_sd, t("setups.unit"), 9);
}
/** Words joined by "or". */
export function either(words) {
  return new Intl.ListFormat(language, { type: "disjunction" }).format(words);
}
export function percent(value) {
  if (value === null || value === undefined) return "–";
  return new Intl.NumberFormat(language, { style: "percent", maximumFractionDigits: 0 }).format(value);
}
/** A day as the language writes it. */
export function day(text) {
  if (!text) return "–";
  const [year, month, date] = text.slice(0, 10).split("-").map(Number);
  return new Intl.DateTimeFormat(language, { dateStyle: "medium", timeZone: "UTC" }).format(Date.UTC(year, month - 1, date));
}
/** With a capital at its beginning. */
export function capital(text) {
  return text.charAt(0).toUpperCase() + text.slice(1);
}
/** A place on the animal in words. */
export function siteWords(name) {
  return tOr(`site.${name}`, name.replace(/^other: /, ""));
}

/** Why the desk did not do something. */
export class Refusal extends Error {}

async function answer(response) {
  if (response.ok) return response.json();
  let sentence = `${response.status}`;
  try {
    const said = await response.json();
    sentence = said.words?.[language] ?? said.sentence ?? sentence;
  } catch {
    if (response.status === 413) sentence = t("upload.tooLarge");
  }
  throw new Refusal(capital(sentence));
}
export async function ask(path) {
  return answer(await fetch(`/api${path}`, { headers: { accept: "application/json" } }));
}
/** Tells the desk something: an object as JSON, a file as it is. */
export async function tell(path, body = {}) {
  const headers = { "x-desk-token": document.querySelector("meta[name=desk-token]").content };
  if (by()) headers["x-desk-by"] = encodeURIComponent(by());
  const file = body instanceof Blob;
  headers["content-type"] = file ? "application/octet-stream" : "application/json";
  return answer(await fetch(`/api${path}`, { method: "POST", headers, body: file ? body : JSON.stringify(body) }));
}

/** Who tells things; empty while nobody said. */
export function by() {
  return localStorage.getItem("desk.by") ?? "";
}
/** Keeps who tells things, and shows it wherever the name is asked for. */
export function named(name) {
  localStorage.setItem("desk.by", name.trim());
  document.getElementById("you-name").textContent = by() || t("you.title");
  for (const input of document.querySelectorAll("input.yourName")) if (document.activeElement !== input) input.value = by();
}
/** A field that asks for the name, where it is not known yet; else nothing. */
export function askName() {
  if (by()) return null;
  return field(t("you.name"), h("input", { type: "text", class: "yourName", autocomplete: "name", maxlength: 80, input: (event) => named(event.target.value) }), t("you.nameHint"));
}
/** Whether it is known who tells things; where not, the name is asked for. */
export function whoIsKnown() {
  if (by()) return true;
  const shown = [...document.querySelectorAll("main input.yourName")].find((input) => input.offsetParent);
  if (!shown) document.querySelector(".you").open = true;
  (shown ?? document.getElementById("by")).focus();
  return false;
}
/** Says something to everybody, also to those who listen. */
export function say(text, kind = "") {
  const said = document.getElementById("said");
  said.className = kind;
  said.textContent = text;
  clearTimeout(say.timer);
  if (kind !== "wrong") say.timer = setTimeout(() => (said.textContent = ""), 9000);
}
/** Does something and says why where it cannot be done. */
export async function trying(work) {
  try {
    return await work();
  } catch (error) {
    if (!(error instanceof Refusal)) console.error(error);
    say(error instanceof Refusal ? error.message : t("said.failed"), "wrong");
    return undefined;
  }
}

/** News of the queue; calls back with each job, and with nothing when all should be asked for anew. */
export function onNews(call) {
  const source = new EventSource("/api/queue/news");
  source.addEventListener("job", (event) => call(JSON.parse(event.data)));
  source.addEventListener("all", () => call(null));
  let broken = false;
  source.onerror = () => (broken = true);
  source.onopen = () => {
    if (broken) call(null);
    broken = false;
  };
  return source;
}

/** Why a photo in the queue could not be read. */
export function jobWords(job) {
  return capital((language === "es" && job.spanish) || job.sentence);
}
/** A field of a form: its label above it. */
export function field(label, input, hint) {
  const id = input.id || `f${(field.count = (field.count ?? 0) + 1)}`;
  input.id = id;
  if (hint) input.setAttribute("aria-describedby", `${id}-hint`);
  return h("p", { class: "field" }, h("label", { for: id }, label), input, hint ? h("small", { id: `${id}-hint` }, hint) : null);
}
/** A list to choose from: pairs of value and words. */
export function choice(name, pairs, chosen, attributes = {}) {
  return h("select", { name, ...attributes }, pairs.map(([value, text]) => h("option", { value, selected: value === chosen }, text)));
}
export function looks() {
  return ["infected", "normal", "coated", "fibre", "undetermined"];
}
export const COLOURS = { infected: "#d55e00", normal: "#56b4e9", coated: "#f0e442", fibre: "#cc79a7", undetermined: "#000000" };
export const DASHES = { infected: [], normal: [10, 5], coated: [10, 4, 2, 4], fibre: [3, 3], undetermined: [5, 5] };
/** A look as it is drawn: line, then word. */
export function lookMark(look) {
  const line = { x1: 2, y1: 7, x2: 34, y2: 7 };
  const casing = look === "undetermined" ? "#ffffff" : "#111111";
  return h("svg", { class: "look", viewBox: "0 0 36 14", "aria-hidden": "true" },
    h("rect", { width: 36, height: 14, rx: 3, fill: look === "undetermined" ? "#dfe3e8" : "#1d2230" }),
    h("line", { ...line, stroke: casing, "stroke-width": look === "infected" ? 7 : 5 }),
    h("line", { ...line, stroke: COLOURS[look], "stroke-width": look === "infected" ? 4 : 2.6, "stroke-dasharray": DASHES[look].join(" ") || null }));
}

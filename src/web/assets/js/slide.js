// One slide: its photos, the chosen shaft, and what people say against what was read.
import { COLOURS, Refusal, answer, ask, capital, day, either, h, jobWords, language, lookMark, looks, number, percent, say, siteWords, t, tOr, tell, trying, whoIsKnown, withSd } from "./base.js";
import { correcting } from "./correct.js";
import { nearest } from "./nearest.js";
import { Profiles } from "./profiles.js";
import { Strip } from "./strip.js";
import { tour } from "./tour.js";
import { uploads } from "./upload.js";
import { Viewer, walker } from "./viewer.js";

const state = { photo: null, reading: null, chosen: null, at: null, changes: [] };
const parts = {};

export async function fill(main) {
  const id = location.pathname.split("/").pop();
  state.demo = id === "demo";
  state.slide = id;
  main.classList.add("wide");
  main.append(frame());
  parts.viewer = new Viewer(parts.frame, parts.photo, parts.overlay, {
    choose: (shaft, place) => choose(shaft, false, place),
    hover: (shaft) => (parts.overlay.style.cursor = shaft ? "pointer" : "grab"),
    place: () => parts.correct.place(),
  });
  parts.strip = new Strip(parts.stripCanvas, (s) => lookAt(s));
  parts.profiles = new Profiles(parts.plots, (s) => lookAt(s));
  parts.correct = correcting(parts.correcting, { state, parts, say: sayCorrections, takeBack, choose });
  keys();
  if (state.demo) {
    parts.title.textContent = t("demo.title");
    parts.where.textContent = t("demo.about");
    document.title = `${t("demo.title")} · Pilumen`;
    state.photo = { id: "demo", file: "quillfeather-moth-left-pinna.jpg" };
    await showPhoto();
    if (new URLSearchParams(location.search).has("tour")) tour(parts);
  } else {
    await showSlide();
    document.addEventListener("desk-job", (event) => trying(() => news(event.detail)));
  }
}

/** The empty page. */
function frame() {
  parts.title = h("h1", {}, "");
  parts.where = h("p", { class: "where" });
  parts.tabs = h("div", { class: "tabs", role: "group", "aria-label": t("slide.photos") });
  parts.photo = h("canvas", { class: "photo", "aria-hidden": "true" });
  parts.overlay = h("canvas", { class: "overlay", tabindex: 0, role: "application", "aria-label": t("slide.photoLabel"), "aria-describedby": "photo-keys" });
  parts.wait = h("p", { class: "over", hidden: true });
  parts.frame = h("div", { class: "viewer", id: "viewer" }, parts.photo, parts.overlay, parts.wait);
  parts.finding = h("section", { class: "finding", "aria-live": "polite" });
  parts.concerns = h("section", { class: "concerns" });
  parts.legend = h("ul", { class: "legend" });
  parts.list = h("ol", { class: "shafts", "aria-label": t("slide.shafts") });
  parts.stripCanvas = h("canvas", { class: "strip", width: 900, height: 72, "aria-hidden": "true" });
  parts.plots = h("div", { class: "plots" });
  parts.shaft = h("div", { id: "shaft" });
  parts.why = h("div", { id: "why" });
  parts.facts = h("div", { id: "facts" });
  parts.correcting = h("div", { id: "correcting" });
  parts.more = h("div", {});
  parts.chosen = h("section", { class: "chosen panel", "aria-label": t("slide.chosen") },
    parts.shaft, parts.why, h("div", { id: "along", hidden: true }, h("h3", {}, t("slide.along")), parts.stripCanvas, parts.plots), parts.correcting, parts.facts, parts.more);
  parts.along = parts.chosen.querySelector("#along");
  return h("div", { class: "slide" },
    h("div", { class: "head" }, h("div", {}, parts.title, parts.where), parts.tabs),
    h("div", { class: "left" }, h("div", { class: "stage" }, tools(), parts.frame, h("p", { class: "keys", id: "photo-keys" }, t("slide.keys"))),
      parts.legend, parts.finding, parts.concerns,
      h("section", { class: "panel" }, h("h2", {}, t("slide.shafts")), parts.list)),
    parts.chosen);
}

/** Zoom, outlines, brightness, false colours. */
function tools() {
  const filter = () => {
    const bright = Number(parts.bright.value);
    const aid = parts.aid.checked ? " url(#aid)" : "";
    parts.photo.style.filter = bright === 1 && !aid ? "" : `brightness(${bright})${aid}`;
  };
  parts.bright = h("input", { type: "range", id: "bright", min: 0.4, max: 4, step: 0.1, value: "1", input: filter });
  parts.aid = h("input", { type: "checkbox", id: "aid-on", change: filter });
  const outlines = h("input", { type: "checkbox", id: "outlines", checked: true, change: (event) => {
    parts.viewer.outlines = event.target.checked;
    parts.viewer.draw();
  } });
  const button = (key, sign, act) => h("button", { type: "button", class: "tool", "aria-label": t(key), title: t(key), click: act }, sign);
  parts.blink = h("button", { type: "button", class: "tool wide", id: "blink", hidden: true, "aria-pressed": "false", click: blink }, t("slide.blink"));
  // Green light is shown as yellow and blue stays blue: a pair that people who see little green tell apart.
  const aid = h("svg", { width: 0, height: 0, class: "nothing", "aria-hidden": "true" },
    h("filter", { id: "aid", "color-interpolation-filters": "linearRGB" },
      h("feColorMatrix", { type: "matrix", values: "0 1 0 0 0  0 0.8 0 0 0  0 0 1 0 0  0 0 0 1 0" })));
  return h("div", { class: "tools", role: "toolbar", "aria-label": t("slide.tools") },
    button("slide.closer", "+", () => parts.viewer.zoomAt(1.5)),
    button("slide.farther", "−", () => parts.viewer.zoomAt(1 / 1.5)),
    button("slide.whole", "⤢", () => parts.viewer.fit()),
    parts.blink,
    h("label", { for: "outlines" }, outlines, t("slide.outlines")),
    h("label", { for: "aid-on" }, parts.aid, t("slide.aid")),
    h("label", { for: "bright", class: "slider" }, t("slide.bright"), parts.bright), aid);
}

async function showSlide() {
  const { slide, animal, photos } = await ask(`/slides/${state.slide}`);
  state.photos = photos;
  state.animal = animal;
  const place = `${siteWords(slide.fact.site)}, ${day(slide.fact.day)}`;
  parts.title.textContent = `${animal.fact.name} · ${siteWords(slide.fact.site)}`;
  document.title = `${animal.fact.name} · ${place} · Pilumen`;
  parts.where.replaceChildren(h("a", { href: `/cases/${animal.id}` }, t("slide.toCase", { name: animal.fact.name })), ` · ${day(slide.fact.day)}`,
    slide.fact.label ? ` · ${slide.fact.label}` : "");
  tabs();
  if (!parts.more.childElementCount) parts.more.append(h("details", {}, h("summary", {}, t("slide.morePhotos")),
    uploads({ slide: async () => state.slide, done: () => trying(showSlide) })));
  const wanted = new URLSearchParams(location.search).get("photo");
  const photo = photos.find((one) => one.id === (state.photo?.id ?? wanted)) ?? photos.find((one) => one.light === "uv") ?? photos[0];
  if (!photo) {
    parts.wait.hidden = false;
    parts.wait.textContent = t("slide.noPhoto");
    parts.more.querySelector("details").open = true;
    return;
  }
  if (state.photo?.id !== photo.id) {
    state.photo = photo;
    await showPhoto();
  }
}

function tabs() {
  const uv = state.photos.filter((photo) => photo.light === "uv");
  const visible = state.photos.filter((photo) => photo.light === "visible");
  parts.blink.hidden = !(uv.length && visible.length);
  parts.tabs.replaceChildren(...(state.photos.length < 2 ? [] : state.photos.map((photo, index) =>
    h("button", { type: "button", "aria-pressed": String(photo.id === state.photo?.id), click: () => trying(async () => {
      state.photo = photo;
      await showPhoto();
      tabs();
    }) }, t("slide.photoN", { n: index + 1 }), " ", h("small", {}, t(`light.${photo.light}`))))));
}

async function showPhoto() {
  if (state.blinking) blink();
  state.chosen = null;
  state.reading = null;
  parts.viewer.setShafts([]);
  const path = state.demo ? "/demo" : `/photos/${state.photo.id}`;
  const reading = loadReading();
  const response = await fetch(`/api${path}/bytes`);
  if (!response.ok) throw new Refusal((await response.json()).sentence);
  await parts.viewer.show(await response.blob());
  await reading;
  // The reading may have come before the picture.
  const chosen = state.reading?.evaluation.shafts.find((shaft) => shaft.id === state.chosen);
  if (chosen) parts.strip.show(parts.viewer, chosen);
  parts.frame.dataset.photo = state.photo.id;
}

async function loadReading() {
  const path = state.demo ? "/demo/reading" : `/photos/${state.photo.id}/reading`;
  take(await ask(path));
}

/** Takes a reading as it stands and shows it. */
function take(answer) {
  const waits = !answer.reading;
  parts.wait.hidden = !waits;
  if (waits) return waiting();
  state.reading = answer;
  const ends = { base: t("end.base"), tip: t("end.tip"), first: t("end.unknown"), last: t("end.unknown") };
  for (const shaft of answer.evaluation.shafts) shaft.words = ends;
  parts.viewer.setShafts(answer.evaluation.shafts);
  finding();
  const still = answer.evaluation.shafts.find((shaft) => shaft.id === state.chosen);
  // What asks for action is looked at first.
  const first = answer.evaluation.shafts.find((shaft) => shaft.class === "infected") ?? answer.evaluation.shafts[0];
  choose(still?.id ?? first?.id ?? null, false);
  parts.frame.dataset.outlines = answer.evaluation.shafts.length;
  performance.mark("outlines");
  return undefined;
}

function waiting() {
  const job = state.photo.job;
  const again = () => trying(async () => {
    await tell(`/photos/${state.photo.id}/read`);
    say(t("queue.again"));
  });
  const cancel = () => trying(() => tell(`/queue/${state.photo.id}/cancel`));
  parts.wait.replaceChildren(
    job?.state === "failed" ? jobWords(job) : t(`queue.${job?.state ?? "none"}`), " ",
    job?.state === "waiting" || job?.state === "reading"
      ? h("button", { type: "button", click: cancel }, t("queue.cancel"))
      : h("button", { type: "button", click: again }, t("queue.read")));
}

/** A job moved on: show it where it is about this slide. */
async function news(job) {
  if (job && job.slide !== state.slide) return;
  if (job) for (const photo of state.photos ?? []) if (photo.id === job.photo) photo.job = job;
  if (!job || !state.photos?.some((photo) => photo.id === job.photo)) return void (await showSlide());
  if (job.photo !== state.photo?.id) return;
  state.photo.job = job;
  if (job.state === "done") await loadReading();
  else if (!state.reading) waiting();
}

function finding() {
  const { evaluation } = state.reading;
  const counts = evaluation.finding.counts;
  const corrected = state.reading.corrections?.length ?? 0;
  parts.finding.replaceChildren(
    h("h2", {}, t("slide.finding")),
    h("p", { class: "sentence" }, t(`finding.${evaluation.finding.code}`)),
    h("p", { class: "detail" }, withoutCulture(state.reading.words[language].finding)),
    h("p", { class: "advice" }, withoutCulture(state.reading.words[language].next), " ", h("strong", {}, t("advice.culture"))),
    h("p", { class: "detail" }, corrected ? t("slide.corrected", { n: corrected }) + " " : "",
      h("a", { href: "/cautions" }, t("slide.trust")), " · ", h("a", { href: "/model" }, t("nav.model"))));
  if (!state.demo) {
    const file = (kind) => h("a", { href: `/api/photos/${state.photo.id}/files/${kind}`, download: true }, t(`file.${kind}`));
    const paper = (kind) => h("a", { href: `/api/photos/${state.photo.id}/paper/${kind}?language=${language}`, download: true }, t(`paper.${kind}`));
    parts.finding.append(h("p", { class: "files" }, t("file.take"), " ", paper("report"), paper("slip"), file("marked"), file("csv"), file("json"),
      h("button", { type: "button", class: "plain", click: () => window.print() }, t("file.print"))));
  }
  parts.legend.replaceChildren(...looks().map((look) => h("li", {}, lookMark(look), t(`look.${look}`), h("b", {}, String(counts[look] ?? 0)))));
  const concerns = evaluation.quality.concerns;
  parts.concerns.replaceChildren(...(concerns.length ? [h("h2", {}, t("slide.concerns")), concernList(concerns)] : []));
  parts.list.replaceChildren(...evaluation.shafts.map((shaft) => h("li", {},
    h("button", { type: "button", class: "shaft", "data-shaft": shaft.id, "aria-pressed": "false", click: () => choose(shaft.id, true) },
      h("b", {}, String(shaft.id)), lookMark(shaft.class), h("span", {}, t(`look.${shaft.class}`),
        h("small", {}, widthWords(shaft), " · ", t(`zone.${shaft.glow.zone}`), shaft.comparison ? ` · ${comparisonWords(shaft)}` : "",
          byPerson(shaft.id) ? ` · ${t("shaft.byPerson")}` : ""))))));
}

/** A text without the advice that stands beside it in bold. */
function withoutCulture(text) {
  return text.replace(t("advice.culture"), "").trim();
}
/** Whether a shaft is a comparison shaft, in words. */
function comparisonWords(shaft) {
  return shaft.comparison ? t(shaft.class === "infected" ? "comparison.taken" : "comparison.serves") : "";
}
function concernList(concerns) {
  return h("ul", {}, concerns.map((concern) => h("li", {}, h("strong", {}, tOr(`concern.${concern.code}`, concern.message)), " ",
    tOr(`concern.${concern.code}.do`, concern.advice), concern.code === "scale-unknown" ? [" ", h("a", { href: "/setups" }, t("upload.scaleMeasure"))] : "")));
}
function byPerson(id) {
  return state.reading.looks_by_people?.includes(id) ?? false;
}
function widthWords(shaft) {
  const { median_um, sd_um, median_px, sd_px, at_most_um, at_most_px } = shaft.width;
  if (shaft.concerns.some((concern) => concern.code === "too-thin")) {
    const [most, unit] = at_most_um ? [at_most_um, "µm"] : [at_most_px, "px"];
    return most ? `≤ ${number(most)} ${unit}` : t("shaft.noWidth");
  }
  if (median_um !== null) return withSd(median_um, sd_um, "µm");
  return median_px === null ? t("shaft.noWidth") : withSd(median_px, sd_px, "px");
}

/** Chooses a shaft, or none. */
function choose(id, reveal, place) {
  if (id === null && state.reading?.evaluation.shafts.length) return;
  state.chosen = id;
  state.at = null;
  parts.viewer.choose(id, reveal);
  parts.viewer.setMark(null);
  for (const button of parts.list.querySelectorAll("button.shaft")) button.setAttribute("aria-pressed", String(Number(button.dataset.shaft) === id));
  const shaft = state.reading?.evaluation.shafts.find((one) => one.id === id);
  parts.along.hidden = !shaft;
  showShaft(shaft);
  if (shaft) {
    parts.strip.show(parts.viewer, shaft);
    const um = state.reading.evaluation.photo.um_per_px;
    const others = state.reading.evaluation.shafts.filter((one) => one.comparison && one.id !== id && one.width.median_px !== null);
    parts.profiles.show(shaft, um, middle(others.map((one) => one.width.median_px)), middle(others.flatMap((one) => one.glow.profile.filter((v) => v !== null))));
    if (place) {
      const near = walker(shaft.centreline_px).nearest([place.x, place.y]);
      lookAt(near.s);
    }
  }
  parts.correct.show(shaft);
}
function middle(values) {
  if (!values.length) return null;
  const sorted = [...values].sort((a, b) => a - b);
  return sorted[sorted.length >> 1];
}

/** Looks at one place along the chosen shaft: on photo, strip and profiles at once. */
function lookAt(s) {
  const shaft = state.reading?.evaluation.shafts.find((one) => one.id === state.chosen);
  if (!shaft) return;
  state.at = s;
  parts.viewer.setMark(s === null ? null : walker(shaft.centreline_px).at(s));
  parts.strip.mark(s);
  parts.profiles.mark(s);
}

/** Everything about the chosen shaft in words and numbers. */
function showShaft(shaft) {
  if (!shaft) {
    parts.shaft.replaceChildren(h("h2", {}, t("slide.noneChosen")));
    parts.why.replaceChildren();
    parts.facts.replaceChildren();
    return;
  }
  const all = state.reading.evaluation.shafts;
  const value = (key) => shaft.features[key]?.value ?? null;
  const index = all.findIndex((one) => one.id === shaft.id);
  const step = (by) => choose(all[(index + by + all.length) % all.length].id, true);
  const compared = (key) => (value(key) === null ? t("shaft.noComparison") : t("shaft.times", { n: number(value(key), 3) }));
  const rows = [
    ["shaft.width", widthWords(shaft)],
    ["shaft.widthCompared", compared("width.to_comparison")],
    ["shaft.glow", shaft.glow.fraction ? t("shaft.glowShare", { zone: t(`zone.${shaft.glow.zone}`), share: percent(shaft.glow.fraction) }) : t(`zone.${shaft.glow.zone}`)],
    ["brightness.over", shaft.glow.contrast === null ? "–" : t("shaft.times", { n: number(shaft.glow.contrast, 2) })],
    ["shaft.glowCompared", value("glow.over_comparison") === null ? t("shaft.noComparison") : t("shaft.times", { n: number(times(value("glow.over_comparison")), 2) })],
    ["shaft.length", shaft.length_um === null ? `${number(shaft.length_px, 4)} px` : `${number(shaft.length_um, 4)} µm`],
    ["shaft.ends", `${t("end.base")}: ${t(`seen.${shaft.ends.base}`)}; ${t("end.tip")}: ${t(`seen.${shaft.ends.tip}`)} (${t(`known.${shaft.ends.orientation}`)})`],
    ["shaft.novelty", `${number(shaft.novelty, 2)} ${t(shaft.novelty > 1 ? "shaft.novel" : "shaft.known")}`],
  ];
  parts.shaft.replaceChildren(
    h("div", { class: "shaftHead" },
      h("button", { type: "button", class: "tool", "aria-label": t("slide.previous"), click: () => step(-1) }, "‹"),
      h("h2", {}, lookMark(shaft.class), ` ${t("shaft.title", { n: shaft.id })}: ${t(`look.${shaft.class}`)}`),
      h("button", { type: "button", class: "tool", "aria-label": t("slide.next"), click: () => step(1) }, "›")),
    byPerson(shaft.id) ? h("p", { class: "person" }, t("shaft.lookByPerson")) : "",
    h("div", { class: "odds", role: "img", "aria-label": looks().slice(0, 4).map((look) => `${t(`look.${look}`)} ${percent(shaft.probability[look])}`).join(", ") },
      looks().slice(0, 4).map((look) => h("div", {}, h("span", {}, t(`look.${look}`)), bar(shaft.probability[look], COLOURS[look]), h("span", {}, percent(shaft.probability[look]))))),
    shaft.plausible.length > 1 ? h("p", { class: "detail" }, t("shaft.plausible", { looks: either(shaft.plausible.map((look) => t(`look.${look}`))) })) : "",
    shaft.comparison ? h("p", { class: "detail comparison" }, t(shaft.class === "infected" ? "shaft.takenWhy" : "shaft.servesWhy")) : "",
    shaft.concerns.length ? h("div", { class: "concerns" }, h("h3", {}, t("slide.concerns")), concernList(shaft.concerns)) : "");
  parts.why.replaceChildren(...(shaft.reasons.length ? [h("h3", {}, t("shaft.reasons")),
    h("ul", { class: "reasons" }, shaft.reasons.map((reason) => reason.words ? h("li", {}, `${capital(reason.words[language])}.`) : h("li", {},
      t("shaft.reason", { feature: tOr(`feature.${reason.feature}`, reason.feature), value: unitWords(reason.value, reason.unit), look: t(`look.${reason.towards}`) }),
      reason.reference === null ? "" : ` ${t("shaft.reference", { value: unitWords(reason.reference, reason.unit) })}`)))] : []));
  parts.facts.replaceChildren(
    h("table", { class: "facts" }, h("caption", {}, t("shaft.measured")), h("tbody", {}, rows.map(([key, text]) => h("tr", {}, h("th", { scope: "row" }, t(key)), h("td", {}, text))))),
    ...nearest(shaft),
    h("details", {}, h("summary", {}, t("shaft.all")), h("table", { class: "facts" }, h("tbody", {}, // Of a second photo in visible light nothing is listed where there is none.
      Object.entries(shaft.features).filter(([key, feature]) => feature.value !== null || !key.startsWith("visible.")).map(([key, feature]) =>
      h("tr", {}, h("th", { scope: "row" }, tOr(`feature.${key}`, key)), h("td", {}, unitWords(feature.value, feature.unit))))))));
}
/** How many times as bright, from a difference as a share of the sum, which is how it is measured. */
function times(share) {
  return share >= 0.98 ? 99 : Math.max(0, (1 + share) / (1 - share));
}
function unitWords(value, unit) {
  return value === null ? "–" : `${number(value)}${unit === "1" ? "" : ` ${tOr(`unit.${unit}`, unit)}`}`;
}
function bar(share, colour) {
  return h("svg", { viewBox: "0 0 100 8", preserveAspectRatio: "none", "aria-hidden": "true" },
    h("rect", { class: "rail", width: 100, height: 8 }), h("rect", { width: Math.max(0.5, share * 100), height: 8, fill: colour }));
}

/** Says corrections: they are kept, the photo is read again with them, and the page shows what comes out. */
async function sayCorrections(changes, why) {
  if (!state.demo && !whoIsKnown()) return void say(t("said.who"), "wrong");
  await trying(async () => {
    parts.frame.classList.add("busy");
    try {
      if (state.demo) {
        const all = [...state.changes, ...changes];
        take(await tell("/demo/reading", { changes: all, why }));
        state.changes = all;
      } else take(await tell(`/readings/${state.reading.reading}/corrections`, { changes, why }));
      say(t("said.corrected"));
    } finally {
      parts.frame.classList.remove("busy");
    }
  });
}
/** Takes a correction back. */
async function takeBack(told) {
  if (!state.demo && !whoIsKnown()) return void say(t("said.who"), "wrong");
  await trying(async () => {
    if (state.demo) {
      const all = state.changes.filter((_, index) => String(index) !== told.id);
      take(await tell("/demo/reading", { changes: all, why: "demo" }));
      state.changes = all;
    } else take(await tell(`/readings/${state.reading.reading}/corrections/${told.id}/withdraw`));
    say(t("said.takenBack"));
  });
}

/** The first of these photos that shows the field of `photo`, laid on it; the first as it is where none does. */
async function laidOn(photo, others) {
  let why;
  for (const other of others) {
    const response = await fetch(`/api/photos/${other.id}/on/${photo.id}`);
    if (response.ok) {
      say(t("slide.laid"));
      return createImageBitmap(await response.blob());
    }
    why ??= await answer(response).catch((error) => error);
  }
  say(`${t("slide.notLaid")} ${why.message}`, "wrong");
  return createImageBitmap(await (await fetch(`/api/photos/${others[0].id}/bytes`)).blob());
}

/** Blinks between the two lights, once a second: slow enough for everybody. The other photo is laid on this one. */
function blink() {
  if (state.blinking) {
    clearInterval(state.blinking);
    state.blinking = null;
  } else {
    const shown = state.photos.findIndex((photo) => photo.id === state.photo.id);
    // The photo in the other light that was added nearest to this one is the likeliest to show its field.
    const others = state.photos.map((photo, index) => ({ photo, far: Math.abs(index - shown) }))
      .filter(({ photo }) => photo.light !== state.photo.light).sort((a, b) => a.far - b.far).map(({ photo }) => photo);
    let second = false;
    state.blinking = -1;
    say(t("slide.laying"));
    trying(async () => {
      const pictures = [parts.viewer.levels, [await laidOn(state.photo, others)]];
      if (state.blinking !== -1) return;
      state.blinking = setInterval(() => {
        second = !second;
        parts.viewer.levels = pictures[second ? 1 : 0];
        parts.viewer.draw();
      }, 1000);
      state.unblink = () => {
        parts.viewer.levels = pictures[0];
        parts.viewer.draw();
      };
    });
  }
  if (!state.blinking) state.unblink?.();
  parts.blink.setAttribute("aria-pressed", String(Boolean(state.blinking)));
}

/** What keys do while the photo has the focus. */
function keys() {
  parts.overlay.addEventListener("keydown", (event) => {
    const { viewer } = parts;
    if (event.ctrlKey || event.metaKey || event.altKey) return;
    if (viewer.adding && parts.correct.key(event)) return void event.preventDefault();
    const far = 60 / viewer.view.zoom;
    const moves = { ArrowLeft: [-far, 0], ArrowRight: [far, 0], ArrowUp: [0, -far], ArrowDown: [0, far] };
    if (moves[event.key] && event.shiftKey) viewer.pan(...moves[event.key]);
    else if (moves[event.key]) {
      const all = state.reading?.evaluation.shafts ?? [];
      const index = all.findIndex((shaft) => shaft.id === state.chosen);
      const by = event.key === "ArrowLeft" || event.key === "ArrowUp" ? -1 : 1;
      if (all.length) {
        choose(all[(index + by + all.length) % all.length].id, true);
        say(`${t("shaft.title", { n: state.chosen })}: ${t(`look.${all.find((shaft) => shaft.id === state.chosen).class}`)}`);
      }
    } else if (event.key === "+" || event.key === "=") viewer.zoomAt(1.25);
    else if (event.key === "-") viewer.zoomAt(0.8);
    else if (event.key === "0") viewer.fit();
    else return;
    event.preventDefault();
  });
}

// Fills the page: words, the top, the page's own script, the bottom.
import { LANGUAGES, ask, by, field, h, language, loadWords, named, onNews, say, t, trying } from "./base.js";

const meta = (name) => document.querySelector(`meta[name=${name}]`).content;
const script = meta("desk-script");

function top() {
  const named = meta("desk-pages").split(" ").map((pair) => pair.split("="));
  const links = named.map(([name, path]) =>
    h("li", {}, h("a", { href: path, "aria-current": name === script ? "page" : null }, t(`nav.${name}`))));
  const name = h("input", { id: "by", type: "text", autocomplete: "name", maxlength: 80, class: "yourName", value: by(), input: (event) => named(event.target.value) });
  const languages = h("select", { id: "language", change: (event) => {
    localStorage.setItem("desk.language", event.target.value);
    location.reload();
  } }, Object.entries(LANGUAGES).map(([code, words]) => h("option", { value: code, lang: code, selected: code === language }, words)));
  const colours = h("select", { id: "colours", change: (event) => {
    localStorage.setItem("desk.colours", event.target.value);
    if (event.target.value) document.documentElement.dataset.colours = event.target.value;
    else delete document.documentElement.dataset.colours;
  } }, [["", "colours.system"], ["light", "colours.light"], ["dark", "colours.dark"]].map(([value, key]) =>
    h("option", { value, selected: value === (localStorage.getItem("desk.colours") ?? "") }, t(key))));
  document.getElementById("skip").textContent = t("nav.skip");
  document.getElementById("top").append(
    h("div", { class: "bar" },
      h("a", { class: "brand", href: "/" }, h("img", { src: "/files/icon.svg", alt: "", width: 28, height: 28 }), "Pilumen"),
      h("nav", { "aria-label": t("nav.label") }, h("ul", {}, links)),
      h("details", { class: "you" }, h("summary", {}, h("span", { id: "you-name" }, by() || t("you.title")), h("span", { id: "waiting", class: "badge", hidden: true })),
        h("div", {}, field(t("you.name"), name, t("you.nameHint")), field(t("you.language"), languages), field(t("you.colours"), colours)))));
}

function bottom() {
  document.getElementById("bottom").append(
    h("p", { class: "advice" }, h("strong", {}, t("advice.culture")), " ", t("advice.never")),
    h("p", {}, h("a", { href: "/cautions" }, t("nav.cautions")), " · ", h("a", { href: "/model" }, t("nav.model")), " · ", t("bottom.local")));
}

/** How many photos wait, in the bar of every page. */
async function waiting() {
  const jobs = new Map();
  const show = () => {
    const n = [...jobs.values()].filter((job) => job.state === "waiting" || job.state === "reading").length;
    const badge = document.getElementById("waiting");
    badge.hidden = n === 0;
    badge.textContent = t("queue.badge", { n });
  };
  const all = async () => {
    for (const job of (await ask("/queue")).queue) jobs.set(job.photo, job);
    show();
  };
  await all();
  onNews((job) => {
    if (job) jobs.set(job.photo, job);
    else trying(all);
    show();
    document.dispatchEvent(new CustomEvent("desk-job", { detail: job }));
  });
}

await loadWords();
top();
bottom();
const page = await import(`./${script}.js`);
const main = document.getElementById("main");
await trying(() => page.fill(main));
if (!document.title.includes("·")) document.title = `${t(`title.${script}`)} · Pilumen`;
trying(waiting);
main.dataset.ready = "yes";

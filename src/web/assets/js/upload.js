// Photos in: dropped, chosen, a folder, or from the camera; sent one after another, each kept before the next.
import { ask, choice, field, h, say, t, tell, trying } from "./base.js";

/** Names of files that may be photos; others in a folder are passed over. */
const PHOTO = /\.(jpe?g|png|webp|tiff?)$/i;

/** A place where files are dropped or chosen; `take` gets those that may be photos. */
export function dropZone({ take, choose, words, folder = true }) {
  const photos = (files) => {
    const some = files.filter((file) => PHOTO.test(file.name) || file.type.startsWith("image/"));
    if (!some.length) return void say(t("upload.none"), "wrong");
    return trying(() => take(some));
  };
  const pick = (key, attributes) => {
    const input = h("input", { type: "file", class: "unseen", accept: "image/jpeg,image/png,image/webp,image/tiff", change: (event) => {
      photos([...event.target.files]);
      event.target.value = "";
    }, ...attributes });
    return h("label", { class: "button" }, input, t(key));
  };
  const zone = h("div", { class: "drop", dragover: (event) => {
    event.preventDefault();
    zone.classList.add("over");
  }, dragleave: () => zone.classList.remove("over"), drop: (event) => {
    event.preventDefault();
    zone.classList.remove("over");
    trying(async () => photos(await dropped(event.dataTransfer)));
  } },
  h("p", { class: "big" }, t(words)), h("p", { class: "row" },
    pick("upload.choose", { multiple: true, id: choose }), folder ? pick("upload.folder", { webkitdirectory: true }) : null, pick("upload.camera", { capture: "environment" })));
  return zone;
}

/** A list of scales: unknown, a saved setup, or a number; with the number's field. */
function scaleChoice() {
  const known = localStorage.getItem("desk.setup") ?? "";
  const typed = localStorage.getItem("desk.scale") ?? "";
  const um = h("input", { type: "number", min: 0, step: "any", inputmode: "decimal", value: typed });
  const typing = field(t("upload.scale"), um, t("upload.scaleHint"));
  const select = h("select", { name: "scale", class: "scale", change: () => {
    typing.hidden = select.value !== "number";
    localStorage.setItem("desk.setup", select.value);
  } });
  const options = (setups) => {
    const chosen = setups.includes(known.slice(6)) ? known : typed ? "number" : "";
    const pairs = [["", t("upload.scaleUnknown")], ...setups.map((name) => [`setup:${name}`, name]), ["number", t("upload.scaleTyped")]];
    select.replaceChildren(...pairs.map(([value, text]) => h("option", { value, selected: value === chosen }, text)));
    typing.hidden = select.value !== "number";
  };
  // Until the list is here the one chosen last stands in it, so that a photo that comes at once is read with it.
  options(known.startsWith("setup:") ? [known.slice(6)] : []);
  trying(async () => options((await ask("/setups")).setups.map((setup) => setup.name)));
  const hint = h("small", {}, h("a", { href: "/setups" }, t("upload.scaleMeasure")));
  return {
    elements: [h("div", {}, field(t("upload.scaleChoice"), select), hint), typing],
    /** What goes with a photo; kept for the next ones. */
    query: () => {
      localStorage.setItem("desk.setup", select.value);
      const value = Number(um.value);
      localStorage.setItem("desk.scale", select.value === "number" && value > 0 ? String(value) : "");
      if (select.value.startsWith("setup:")) return { setup: select.value.slice(6) };
      return select.value === "number" && value > 0 ? { um_per_px: String(value) } : {};
    },
  };
}

/** A place to put photos. `slide` gives the id of the slide they belong to, asked for when there are some; `done` is
 * called with it when all are kept. */
export function uploads({ slide, done }) {
  const light = choice("light", ["uv", "visible"].map((one) => [one, t(`light.${one}`)]), "uv");
  const scale = scaleChoice();
  const list = h("ul", { class: "sending" });
  const element = h("div", { class: "uploads" }, h("div", { class: "fields" }, field(t("upload.light"), light), scale.elements),
    dropZone({ take, choose: "choose", words: "upload.drop" }), list);

  async function take(photos) {
    performance.mark("drop");
    const id = await trying(slide);
    if (!id) return;
    const chosen = scale.query();
    let kept = 0;
    for (const [index, file] of photos.entries()) {
      const item = h("li", {}, t("upload.sending", { file: file.name, n: index + 1, of: photos.length }));
      list.prepend(item);
      const query = new URLSearchParams({ file: file.name, light: light.value, ...chosen });
      try {
        await tell(`/slides/${id}/photos?${query}`, file);
        kept += 1;
        item.textContent = t("upload.kept", { file: file.name });
      } catch (error) {
        item.className = "wrong";
        item.textContent = `${file.name}: ${error.message}`;
        say(`${file.name}: ${error.message}`, "wrong");
      }
    }
    if (kept) done(id);
  }
  return element;
}

/** The files of a drop, folders looked through. */
async function dropped(transfer) {
  const entries = [...transfer.items].map((item) => item.webkitGetAsEntry?.()).filter(Boolean);
  if (!entries.some((entry) => entry.isDirectory)) return [...transfer.files];
  const files = [];
  const walk = async (entry) => {
    if (entry.isFile) files.push(await new Promise((done, failed) => entry.file(done, failed)));
    else {
      const reader = entry.createReader();
      for (;;) {
        const some = await new Promise((done, failed) => reader.readEntries(done, failed));
        if (!some.length) break;
        for (const one of some) await walk(one);
      }
    }
  };
  for (const entry of entries) await walk(entry);
  return files;
}

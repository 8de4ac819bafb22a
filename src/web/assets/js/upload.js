// Photos in: dropped, chosen, a folder, or from the camera; sent one after another, each kept before the next.
import { choice, field, h, say, t, tell, trying } from "./base.js";

/** Names of files that may be photos; others in a folder are passed over. */
const PHOTO = /\.(jpe?g|png|webp|tiff?)$/i;

/** A place to put photos. `slide` gives the id of the slide they belong to, asked for when there are some; `done` is
 * called with it when all are kept. */
export function uploads({ slide, done }) {
  const light = choice("light", ["uv", "visible"].map((one) => [one, t(`light.${one}`)]), "uv");
  const scale = h("input", { type: "number", min: 0, step: "any", inputmode: "decimal", value: localStorage.getItem("desk.scale") ?? "" });
  const list = h("ul", { class: "sending" });
  const pick = (key, attributes) => {
    const input = h("input", { type: "file", class: "unseen", accept: "image/jpeg,image/png,image/webp,image/tiff", change: (event) => {
      take([...event.target.files]);
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
    trying(async () => take(await dropped(event.dataTransfer)));
  } },
  h("p", { class: "big" }, t("upload.drop")), h("p", { class: "row" },
    pick("upload.choose", { multiple: true, id: "choose" }), pick("upload.folder", { webkitdirectory: true }), pick("upload.camera", { capture: "environment" })));
  const element = h("div", { class: "uploads" }, zone, h("div", { class: "fields" }, field(t("upload.light"), light),
    field(t("upload.scale"), scale, t("upload.scaleHint"))), list);

  async function take(files) {
    const photos = files.filter((file) => PHOTO.test(file.name) || file.type.startsWith("image/"));
    if (!photos.length) return void say(t("upload.none"), "wrong");
    performance.mark("drop");
    const id = await trying(slide);
    if (!id) return;
    const um = Number(scale.value);
    localStorage.setItem("desk.scale", um > 0 ? String(um) : "");
    let kept = 0;
    for (const [index, file] of photos.entries()) {
      const item = h("li", {}, t("upload.sending", { file: file.name, n: index + 1, of: photos.length }));
      list.prepend(item);
      const query = new URLSearchParams({ file: file.name, light: light.value });
      if (um > 0) query.set("um_per_px", String(um));
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

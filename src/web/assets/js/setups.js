// Setups: a photo of a stage micrometer in, its scale with how sure it is, saved by name; the list of saved ones.
import { ask, field, h, number, percent, say, scaleWords, t, tell, tOr, trying } from "./base.js";
import { dropZone } from "./upload.js";

/** What micrometers are ruled with most often, micrometres. */
const USUAL_PITCH_UM = 10;

export async function fill(main) {
  const list = h("div", { id: "setup-list" });
  main.append(h("h1", {}, t("setups.title")), h("p", { class: "lead" }, t("setups.about")),
    h("div", { class: "columns" }, h("section", { class: "panel" }, h("h2", {}, t("setups.measure")), measuring(() => trying(() => show(list)))),
      h("section", { class: "panel" }, h("h2", {}, t("setups.saved")), list)));
  await show(list);
}

/** The saved ones, each to be removed. */
async function show(list) {
  const { setups } = await ask("/setups");
  list.replaceChildren(setups.length ? h("ul", { class: "plain setups" }, setups.map((setup) => h("li", {}, h("strong", {}, setup.name), ` ${scaleWords(setup)}`,
    h("small", {}, ` ${t("setups.from", { lines: setup.lines, span: number(setup.span_um, 4), photos: setup.photos.join(", "), width: setup.width_px, height: setup.height_px })}`),
    h("button", { type: "button", class: "plain", "aria-label": t("setups.removeOf", { name: setup.name }), click: () => trying(async () => {
      await tell("/setups/remove", { name: setup.name });
      say(t("setups.removed", { name: setup.name }));
      await show(list);
    }) }, t("setups.remove"))))) : h("p", {}, t("setups.none")));
}

/** Photos of the micrometer, the distance of its lines, and what comes out. */
function measuring(saved) {
  const photos = [];
  const number_ = (id, value, attributes = {}) => h("input", { type: "number", id, min: 0, step: "any", inputmode: "decimal", value, ...attributes });
  const pitch = number_("pitch", String(USUAL_PITCH_UM), { change: () => trying(compute) });
  const pitchSd = number_("pitch-sd", "", { change: () => trying(compute) });
  const aperture = number_("aperture", "", { change: () => trying(compute) });
  const name = h("input", { type: "text", id: "setup-name", maxlength: 60, autocomplete: "off" });
  const replace = h("input", { type: "checkbox", id: "setup-replace" });
  const list = h("ul", { class: "plain", id: "micrometer-photos" });
  const result = h("div", { id: "scale-result", "aria-live": "polite" });
  const given = (input) => (Number(input.value) > 0 ? Number(input.value) : null);
  const asking = () => ({ photos: photos.map((one) => one.id), pitch_um: Number(pitch.value), pitch_sd_um: given(pitchSd), na: given(aperture) });

  async function take(files) {
    for (const file of files) {
      const sending = h("li", {}, t("upload.sending", { file: file.name, n: files.indexOf(file) + 1, of: files.length }));
      list.append(sending);
      try {
        const one = await tell(`/setups/photos?${new URLSearchParams({ file: file.name })}`, file);
        photos.push(one);
        sending.replaceChildren(photoWords(one, () => {
          photos.splice(photos.indexOf(one), 1);
          sending.remove();
          trying(compute);
        }));
      } catch (error) {
        sending.className = "wrong";
        sending.textContent = `${file.name}: ${error.message}`;
        say(`${file.name}: ${error.message}`, "wrong");
      }
    }
    await compute();
  }
  async function compute() {
    if (!photos.length) return void result.replaceChildren();
    try {
      const { setup, pitch_sd_known: known } = await tell("/setups/scale", asking());
      result.replaceChildren(h("p", { class: "scale" }, h("strong", {}, scaleWords(setup))),
        h("p", { class: "detail" }, t("setups.size", { width: setup.width_px, height: setup.height_px })),
        h("ul", { class: "concerns" }, setup.concerns.map((one) => h("li", {}, h("strong", {}, tOr(`concern.${one.code}`, one.message)), " ", tOr(`concern.${one.code}.do`, one.advice))),
          known ? null : h("li", {}, t("setups.pitchUnsure"))),
        h("form", { submit: (event) => {
          event.preventDefault();
          trying(save);
        } }, h("div", { class: "fields" }, field(t("setups.name"), name, t("setups.nameHint"))), h("p", {}, h("label", { for: "setup-replace" }, replace, " ", t("setups.replace"))),
        h("p", {}, h("button", { type: "submit", class: "main", id: "save-setup" }, t("setups.save")))));
    } catch (error) {
      result.replaceChildren(h("p", { class: "wrong" }, error.message));
      throw error;
    }
    return undefined;
  }
  async function save() {
    await tell("/setups/scale", { ...asking(), name: name.value, replace: replace.checked });
    say(t("setups.kept", { name: name.value.trim() }));
    name.value = "";
    replace.checked = false;
    saved();
  }
  return h("div", {}, h("p", {}, t("setups.how")), h("div", { class: "fields" }, field(t("setups.pitch"), pitch, t("setups.pitchHint"))),
    dropZone({ take, choose: "choose-micrometer", words: "setups.drop", folder: false }), list, result,
    h("details", {}, h("summary", {}, t("setups.more")), h("div", { class: "fields" }, field(t("setups.pitchSd"), pitchSd, t("setups.pitchSdHint")), field(t("setups.aperture"), aperture, t("setups.apertureHint")))));
}

/** What was seen on one photo of the micrometer. */
function photoWords(one, remove) {
  const lines = one.rulings.map((ruling) => t(ruling.dark ? "setups.dark" : "setups.bright", { n: ruling.lines, px: number(ruling.pitch_px, 4), share: percent(ruling.span_share) })).join("; ");
  return h("span", {}, `${one.file}: ${lines} `, h("button", { type: "button", class: "plain", "aria-label": t("queue.cancelOf", { file: one.file }), click: remove }, t("queue.cancel")));
}

// Forms of the case page: a slide, an exam, a culture, a treatment, a contact; and a look at a plate.
import { choice, field, h, say, siteWords, t, tell, trying } from "./base.js";

const ANSWERS = ["yes", "no", "unsure"];
const answers = (name, chosen) => choice(name, ANSWERS.map((one) => [one, t(`answer.${one}`)]), chosen);

/** All forms, folded. */
export function forms(data, reference, show) {
  const sites = reference.sites.map((place) => [place.name, siteWords(place.name)]);
  const today = () => h("input", { type: "date", value: data.today, max: data.today, required: true });
  const id = data.animal.id;
  return h("div", { class: "forms" }, slide(), exam(), culture(), treatment(), contact());

  function slide() {
    const [day, site, plucked, compared, label] = [today(), choice("site", sites, null, { id: "slide-site" }), text(), text(), text()];
    return form("form.slide", [["form.day", day], ["form.site", site], ["form.plucked", plucked], ["form.compared", compared], ["form.label", label]], async () => {
      const kept = await tell(`/cases/${id}/slides`, { site: site.value, day: day.value, plucked: plucked.value || null, comparison_hairs: compared.value || null, label: label.value || null });
      location.assign(`/slides/${kept.id}`);
    });
  }
  function exam() {
    const [day, site, seen, colour, loss, crust, lamp, remark] = [today(), choice("site", [["", t("exam.none")], ...sites], "", { id: "exam-site" }), answers("seen", "yes"), text(), answers("loss", "no"), answers("crust", "no"),
      h("input", { type: "number", min: 300, max: 420, step: 1, inputmode: "numeric" }), text()];
    return form("form.exam", [["form.day", day], ["form.site", site], ["exam.fluorescence", seen], ["exam.colour", colour], ["exam.hairLoss", loss], ["exam.crust", crust], ["exam.lamp", lamp], ["form.remark", remark]], () =>
      tell(`/cases/${id}/exams`, { day: day.value, lamp_nm: lamp.value ? Number(lamp.value) : null, remark: remark.value || null,
        sites: site.value ? [{ site: site.value, fluorescence: seen.value, colour: seen.value === "no" ? null : colour.value || null, hair_loss: loss.value, crust: crust.value }] : [] }), show);
  }
  function culture() {
    const [day, medium, site, how, laboratory] = [today(), h("input", { type: "text", required: true, maxlength: 200 }), choice("site", [["", t("case.wholeCoat")], ...sites], "", { id: "culture-site" }), text(), text()];
    return form("form.culture", [["form.day", day], ["form.medium", medium], ["form.site", site], ["form.sampled", how], ["form.laboratory", laboratory]], () =>
      tell(`/cases/${id}/cultures`, { day: day.value, medium: medium.value, site: site.value || null, sampled_by: how.value || null, laboratory: laboratory.value || null }), show);
  }
  function treatment() {
    const kinds = ["bath", "topical", "systemic", "clipping", "other"].map((one) => [one, t(`treatment.${one}`)]);
    const [day, kind, given] = [today(), choice("kind", kinds, "bath"), h("input", { type: "text", required: true, maxlength: 300 })];
    return form("form.treatment", [["form.day", day], ["form.kind", kind], ["form.with", given]], () => tell(`/cases/${id}/treatments`, { day: day.value, kind: kind.value, with: given.value }), show);
  }
  function contact() {
    const [day, other, how] = [today(), h("input", { type: "text", required: true, maxlength: 300 }), text()];
    return form("form.contact", [["form.day", day], ["form.exposedTo", other], ["form.how", how]], () => tell(`/cases/${id}/contacts`, { day: day.value, with: other.value, how: how.value || null }), show);
  }
}

/** A look at a culture's plate. */
export function plateForm(culture, show) {
  const today = new Date().toLocaleDateString("sv");
  const day = h("input", { type: "date", value: today, required: true });
  const growth = choice("growth", ["none", "suspect", "ringworm", "other"].map((one) => [one, t(`growth.${one}`)]), "none");
  const species = text();
  const last = h("input", { type: "checkbox" });
  return form("form.plate", [["form.day", day], ["form.growth", growth], ["form.species", species], ["form.last", last]], () =>
    tell(`/cultures/${culture}/plates`, { day: day.value, growth: growth.value, species: species.value || null, last: last.checked }), show);
}

function text() {
  return h("input", { type: "text", maxlength: 300 });
}

function form(title, fields, keep, show) {
  return h("details", { class: "form", "data-form": title }, h("summary", {}, t(title)), h("form", { submit: (event) => {
    event.preventDefault();
    trying(async () => {
      await keep();
      await show?.();
      say(t("said.kept"));
    });
  } }, h("div", { class: "fields" }, fields.map(([key, input]) => field(t(key), input))), h("p", {}, h("button", { type: "submit", class: "main" }, t("case.keep")))));
}

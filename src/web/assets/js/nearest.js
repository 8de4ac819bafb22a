// The two reference shafts that a shaft is most like, as small strips.
import { h, lookMark, number, t } from "./base.js";

/** Columns and rows of a strip in the sheet of the model's reference shafts. */
const COLUMNS = 160;
const ROWS = 18;

const sheets = new Map();

/** The sheet of a model; null where it has none, as a model grown elsewhere. */
function sheet(model) {
  if (!sheets.has(model)) {
    sheets.set(model, fetch(`/api/model/strips/${model}`).then(async (response) =>
      response.status === 200 ? createImageBitmap(await response.blob()) : null).catch(() => null));
  }
  return sheets.get(model);
}

/** A block for the page; nothing for readings that do not tell. */
export function nearest(shaft, evaluation) {
  const near = shaft.nearest ?? [];
  if (!near.length) return [];
  const one = ({ id, look, distance }) => {
    const words = t("nearest.one", { look: t(`look.${look}`), distance: number(distance, 2) });
    const canvas = h("canvas", { class: "strip reference", width: COLUMNS, height: ROWS, hidden: true, role: "img", "aria-label": words });
    sheet(evaluation.program.model_sha256).then((picture) => {
      if (!picture) return;
      const context = canvas.getContext("2d");
      context.drawImage(picture, 0, -(id - 1) * ROWS);
      // A strip that could not be drawn is black all over.
      canvas.hidden = !context.getImageData(0, 0, COLUMNS, ROWS).data.some((value, at) => at % 4 !== 3 && value > 6);
    });
    return h("li", {}, canvas, h("span", {}, lookMark(look), ` ${words}`));
  };
  return [h("h3", {}, t("nearest.title")), h("ul", { class: "nearest" }, near.map(one)), h("p", { class: "detail" }, t("nearest.about"))];
}

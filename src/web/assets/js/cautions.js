// What must be known before anything here is believed.
import { h, t } from "./base.js";

const N = 8;

export function fill(main) {
  main.append(h("h1", {}, t("cautions.title")), h("p", { class: "lead" }, t("advice.culture"), " ", t("advice.never")),
    h("ol", { class: "cautions" }, Array.from({ length: N }, (_, index) => h("li", {}, h("strong", {}, t(`caution.${index + 1}.title`)), " ", t(`caution.${index + 1}`)))),
    h("p", {}, h("a", { href: "/model" }, t("cautions.model"))));
}

// Leads a newcomer through the demo photo, one thing at a time.
import { h, t } from "./base.js";

const STEPS = 5;

export function tour(parts) {
  let step = 0;
  const targets = [parts.frame, parts.list, parts.why, parts.correcting, parts.finding];
  const text = h("p", {});
  const title = h("h2", { tabindex: -1 });
  const next = h("button", { type: "button", class: "main", click: () => go(step + 1) });
  const back = h("button", { type: "button", click: () => go(step - 1) }, t("tour.back"));
  const card = h("section", { class: "tour", "aria-label": t("tour.label") }, title, text,
    h("p", { class: "row" }, back, next, h("button", { type: "button", class: "plain", click: end }, t("tour.end"))));
  function go(to) {
    targets[step]?.classList.remove("shown");
    if (to >= STEPS) return end();
    step = Math.max(0, to);
    title.textContent = `${step + 1}/${STEPS} · ${t(`tour.${step + 1}.title`)}`;
    text.textContent = t(`tour.${step + 1}.text`);
    next.textContent = t(step + 1 === STEPS ? "tour.finish" : "tour.next");
    back.disabled = step === 0;
    const target = targets[step];
    if (target === parts.correcting) target.querySelector("details").open = true;
    target.classList.add("shown");
    target.scrollIntoView({ block: "center", behavior: matchMedia("(prefers-reduced-motion: reduce)").matches ? "auto" : "smooth" });
    title.focus({ preventScroll: true });
    return undefined;
  }
  function end() {
    localStorage.setItem("desk.toured", "yes");
    location.assign("/");
  }
  document.body.append(card);
  go(0);
}

// The sliders of the page of days. Without scripts all its pictures stand in a row.
"use strict";
const parts = document.querySelectorAll("[data-days]");
const chosen = () => document.querySelector("[data-light] input:checked")?.value ?? "uv";

function show(part) {
  const days = part.dataset.days.split(" ");
  const day = days[Number(part.querySelector("input").value)];
  for (const figure of part.querySelectorAll("figure")) {
    figure.classList.toggle("now", figure.dataset.day === day);
    for (const image of figure.querySelectorAll("img")) image.classList.toggle("off", image.dataset.light !== chosen());
  }
  const words = part.dataset.words.replace("{day}", day);
  part.querySelector("output").textContent = words;
  part.querySelector("input").setAttribute("aria-valuetext", words);
}

for (const part of parts) {
  part.classList.add("live");
  part.querySelector("[data-slider]").hidden = false;
  part.querySelector("input").addEventListener("input", () => show(part));
  show(part);
}
const light = document.querySelector("fieldset[data-light]");
if (light) {
  light.hidden = false;
  light.addEventListener("change", () => parts.forEach(show));
}

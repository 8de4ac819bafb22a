// Light or dark as was chosen here, before anything is drawn; without a choice the system's.
(() => {
  const chosen = localStorage.getItem("desk.colours");
  if (chosen === "light" || chosen === "dark") document.documentElement.dataset.colours = chosen;
})();

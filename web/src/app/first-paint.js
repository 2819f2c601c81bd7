// Runs before the first paint: puts the chosen colour scheme on the page, so that
// a dark page never flashes light. A classic script of its own, no imports.
(() => {
  let chosen = "auto";
  try {
    chosen = localStorage.getItem("waybill-scheme") || "auto";
  } catch {
    // Storage may be refused; the system's scheme is taken then.
  }
  const dark =
    chosen === "dark" ||
    (chosen === "auto" && window.matchMedia("(prefers-color-scheme: dark)").matches);
  document.documentElement.setAttribute("data-mantine-color-scheme", dark ? "dark" : "light");
})();

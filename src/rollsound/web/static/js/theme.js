// Runs before the page is drawn: day, night, or as the device says. Kept on this device only.
(() => {
  const dark = matchMedia("(prefers-color-scheme: dark)");
  const kept = () => {
    try { return localStorage.getItem("rollsound-theme") || "auto"; } catch { return "auto"; }
  };
  const draw = () => {
    const choice = kept();
    const night = choice === "night" || (choice === "auto" && dark.matches);
    document.documentElement.dataset.theme = night ? "night" : "day";
  };
  draw();
  dark.addEventListener("change", draw);
  addEventListener("storage", draw);
  addEventListener("rollsound-theme", draw);
})();

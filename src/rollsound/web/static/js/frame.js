// Clock of the strip, theme choice, the worker that keeps last seen pages.
const clock = document.querySelector("[data-clock]");
if (clock) {
  const show = () => {
    const now = new Date();
    const text = `${String(now.getHours()).padStart(2, "0")}:${String(now.getMinutes()).padStart(2, "0")}`;
    if (clock.textContent !== text) {
      clock.textContent = text;
      clock.dateTime = text;
    }
    setTimeout(show, 60500 - (now.getTime() % 60000));
  };
  show();
}

for (const choice of document.querySelectorAll("[data-theme-choice]")) {
  let kept = "auto";
  try { kept = localStorage.getItem("rollsound-theme") || "auto"; } catch { /* not kept on this device */ }
  for (const each of choice.querySelectorAll("input")) each.checked = each.value === kept;
  choice.addEventListener("change", (event) => {
    try { localStorage.setItem("rollsound-theme", event.target.value); } catch { /* not kept on this device */ }
    dispatchEvent(new Event("rollsound-theme"));
  });
}

if ("serviceWorker" in navigator && "joined" in document.body.dataset) {
  navigator.serviceWorker.register(`/worker.js?v=${document.body.dataset.version}`).then(() => navigator.serviceWorker.ready)
    .then((ready) => {
      const seen = performance.getEntriesByType("resource").map((each) => each.name).filter((name) => name.includes("/static/"));
      ready.active?.postMessage({ seen: [location.pathname, ...seen] });
    }).catch(() => { /* pages work without it */ });
}

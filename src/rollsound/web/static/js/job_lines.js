// The lines of jobs on a page: progress as it comes, and the list anew when a job begins or ends.
import { words } from "./words.js";

/** Follow the jobs whose lines have ids beginning with `prefix`; `anew` fetches the list, `percent` is its word. */
export function followJobs(prefix, percent, anew) {
  document.body.addEventListener("live-jobs", (event) => {
    const news = event.detail ?? {};
    const line = news.id ? document.getElementById(`${prefix}${news.id}`) : null;
    if (news.anew || !line || line.dataset.state !== news.state) {
      anew();
      return;
    }
    const { done, total, label } = news.progress ?? {};
    const bar = line.querySelector("progress");
    if (!bar || !total) return;
    const n = Math.round((100 * done) / total);
    bar.value = n;
    line.querySelector("[data-percent]").textContent = words(percent, { n });
    line.querySelector("[data-label-of-job]").textContent = label ?? "";
  });
}

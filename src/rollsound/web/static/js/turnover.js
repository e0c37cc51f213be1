// Turnover: progress as it comes, and the list anew when a job begins or ends.
import { words } from "./words.js";

const anew = () => document.body.dispatchEvent(new CustomEvent("turnover-anew"));

document.body.addEventListener("live-jobs", (event) => {
  const news = event.detail ?? {};
  const line = news.id ? document.getElementById(`turnover-job-${news.id}`) : null;
  if (news.anew || !line || line.dataset.state !== news.state) {
    anew();
    return;
  }
  const { done, total, label } = news.progress ?? {};
  const bar = line.querySelector("progress");
  if (!bar || !total) return;
  const percent = Math.round((100 * done) / total);
  bar.value = percent;
  line.querySelector("[data-percent]").textContent = words("turnover.percent", { n: percent });
  line.querySelector("[data-label-of-job]").textContent = label ?? "";
});

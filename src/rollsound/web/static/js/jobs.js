// Jobs: progress as it comes, and the list anew when a job begins or ends. Forms that name places send them whole.
import { send } from "./outbox.js";
import { fieldsOf, heldIn } from "./forms.js";
import { followJobs } from "./job_lines.js";
import { words } from "./words.js";

const anew = () => document.body.dispatchEvent(new CustomEvent("jobs-anew"));

followJobs("job-", "media.percent", anew);

document.addEventListener("submit", async (event) => {
  const form = event.target;
  if (!form.matches("form[data-job]")) return;
  event.preventDefault();
  const place = form.querySelector("[data-outcome]");
  const outcome = await send("POST", "/api/v1/jobs", { kind: form.dataset.job, arguments: fieldsOf(form) }, { draft: form.dataset.keep, held: await heldIn(form) });
  const refused = outcome.state === "refused";
  place.classList.toggle("refused", refused);
  if (refused) place.textContent = words("frame.refused", { detail: outcome.problem.detail });
  else place.textContent = outcome.state === "kept" ? words("frame.kept") : outcome.answer?.sentence ?? words("frame.saved");
  if (outcome.state === "saved") anew();
});

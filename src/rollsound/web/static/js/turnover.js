// Turnover: progress as it comes, and the list anew when a job begins or ends.
import { followJobs } from "./job_lines.js";

const anew = () => document.body.dispatchEvent(new CustomEvent("turnover-anew"));

followJobs("turnover-job-", "turnover.percent", anew);

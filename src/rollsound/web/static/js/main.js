// What every page has: the live stream, the outbox, kept drafts, the clock, the theme choice, the offline worker.
import "./outbox.js";
import "./forms.js";
import "./live.js";
import "./frame.js";

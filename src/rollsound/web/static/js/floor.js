// The page Floor: every act is one line of the log, kept here until it is sent.
import "./daylog.js";

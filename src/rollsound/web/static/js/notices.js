// A sentence at the head of the sheet, said politely to those who listen, until it is closed.
import { words } from "./words.js";

export function notice(sentence) {
  const place = document.getElementById("notices");
  const line = document.createElement("p");
  const text = document.createElement("span");
  text.textContent = sentence;
  const close = document.createElement("button");
  close.type = "button";
  close.className = "btn";
  close.textContent = words("frame.close");
  close.addEventListener("click", () => line.remove());
  line.append(text, close);
  place.replaceChildren(line);
}

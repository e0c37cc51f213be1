// A sentence at the head of the sheet, said politely to those who listen, until it is closed.
import { words } from "./words.js";

/** @param {{label: string, act: () => void}} [more] a second button: what can be done about it */
export function notice(sentence, more) {
  const place = document.getElementById("notices");
  const line = document.createElement("p");
  const text = document.createElement("span");
  text.textContent = sentence;
  const close = document.createElement("button");
  close.type = "button";
  close.className = "btn";
  close.textContent = words("frame.close");
  close.addEventListener("click", () => line.remove());
  line.append(text);
  if (more) {
    const button = document.createElement("button");
    button.type = "button";
    button.className = "btn main";
    button.textContent = more.label;
    button.addEventListener("click", more.act);
    line.append(button);
  }
  line.append(close);
  place.replaceChildren(line);
}

/** Light, dark, or for bright sun; the size of words is the browser's own. */
import { choice } from "./store.js";

/** Puts the chosen look on. */
export function settle() {
  document.documentElement.dataset.look = choice("look") || "auto";
}

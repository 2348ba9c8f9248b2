/** Says words aloud, so that hands stay on the jack; only when asked to. */
import { spoken } from "./lang.js";
import { choice } from "./store.js";

export const canSpeak = "speechSynthesis" in window;

/** Whether each result and each move is to be said by itself. */
export function handsFree() {
  return canSpeak && choice("aloud") === "1";
}

/** @param {string} text */
export function say(text) {
  if (!canSpeak || !text) return;
  speechSynthesis.cancel();
  const words = new SpeechSynthesisUtterance(text);
  words.lang = spoken();
  speechSynthesis.speak(words);
}

export function hush() {
  if (canSpeak) speechSynthesis.cancel();
}

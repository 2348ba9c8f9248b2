/** Which shop this phone is paired with, and handing it back. */
import { button, h, link, put } from "./dom.js";
import { dated, t, tn } from "./lang.js";
import { get } from "./api.js";
import { explain } from "./frame.js";
import { outbox } from "./outbox.js";
import { forget } from "./store.js";

/** @import {Session} from "./shapes.js" */

/** Draws whose phone this is; nothing where it was not paired: at the service's own machine, or by a link. @param {Element} place */
export async function drawSession(place) {
  /** @type {Session|undefined} */
  const session = await get("session").catch(() => undefined); // what is wrong with the key is said by what needs it
  if (!session?.expireTime || session.job) return;
  put(place, h("section", { class: "panel" }, h("h2", null, t("session.title", { shop: session.shop })),
    h("p", null, t("session.as", { label: session.label, role: t(`role.${session.role}`), when: dated(session.expireTime) })),
    button(t("forget.do"), () => void forgetPhone(place).catch(explain))));
}

/** Asks once, ends the key, and shows the door. Nothing is lost before the service's side has answered. @param {Element} place */
async function forgetPhone(place) {
  const waiting = outbox.entries.length;
  if (!confirm([waiting ? tn("forget.lose", waiting) : "", t("forget.ask")].filter(Boolean).join("\n\n"))) return;
  const ended = await unpair();
  await outbox.clear();
  await forget();
  if (ended) location.replace("/pair");
  else put(place, h("section", { class: "panel", role: "alert" }, h("p", { class: "fault" }, t("forget.open")), link(t("home.pair"), "/pair")));
}

/** Whether the key has ended; forgotten it is. Fails where this browser still has it. */
async function unpair() {
  const answer = await fetch("/unpair", { method: "POST" });
  const said = await answer.json().catch(() => ({}));
  if (answer.ok) return said.keyEnded === true;
  if (said.details?.[0]?.reason === "KEY_NOT_ENDED") return false;
  throw new Error(said.message ?? t("fault.away"));
}

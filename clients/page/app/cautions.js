/** The cautions: each ticked by a person who is named, none beforehand; asked before the first reading and at sign-off, then out of the way. */
import { field, h, tick } from "./dom.js";
import { t, when } from "./lang.js";
import { choice, choose } from "./store.js";

/** @import {OpenJob} from "./job.js" */

/** Those the outbox already holds a tick for. @param {OpenJob} job @returns {Set<string>} */
function waiting(job) {
  return new Set(job.unsent.filter((e) => e.kind === "tick").flatMap((e) => e.body.ticks.map((/** @type {any} */ c) => c.caution)));
}

/** The cautions that nobody has ticked. @param {OpenJob} job */
export function openCautions(job) {
  const sent = waiting(job);
  return job.state.cautions.filter((c) => !c.person && !sent.has(c.id));
}

/** The list, to tick. @param {OpenJob} job @param {() => void} [then] */
export function cautionList(job, then) {
  const open = openCautions(job);
  const ticked = new Set();
  const person = h("input", { type: "text", maxlength: 100, autocomplete: "name", value: choice("person"), required: true });
  const go = h("button", { class: "go" }, t("cautions.done"));
  const form = h("form", { class: "panel cautions" + (open.length ? " open" : "") }, h("h2", null, t("cautions.title")),
    job.state.cautions.map((c) => open.includes(c)
      ? tick(c.text, false, (on) => { if (on) ticked.add(c.id); else ticked.delete(c.id); fit(); })
      : h("p", { class: "ticked" }, h("span", { "aria-hidden": "true" }, "✓ "), c.text, h("small", null, c.person ? t("cautions.by", { person: c.person, when: when(c.tickTime ?? "") }) : t("walk.kept")))),
    open.length ? [field(t("person"), person), go] : null);
  const fit = () => { go.disabled = ticked.size < open.length; };
  fit();
  form.addEventListener("submit", async (e) => {
    e.preventDefault();
    choose("person", person.value.trim());
    form.classList.remove("open");
    await job.tickCautions([...ticked], t("cautions.title"));
    then?.();
  });
  return form;
}

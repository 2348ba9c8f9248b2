/** What the service refused of what was sent: shown with both sides, for the technician to decide. */
import { button, h } from "./dom.js";
import { t } from "./lang.js";
import { outbox } from "./outbox.js";
import { settingWords } from "./schema-form.js";

/** @import {Entry} from "./outbox.js" */
/** @import {OpenJob} from "./job.js" */

/** @param {OpenJob} job */
export function troubles(job) {
  const entry = job.unsent.find((e) => e.trouble);
  if (!entry) return outbox.halted ? h("div", { class: "notice", "data-kind": "fault", role: "alert" }, h("p", null, outbox.halted.message), outbox.halted.status === 401 ? h("a", { href: "/pair" }, t("home.pair")) : null) : null;
  const later = job.unsent.filter((e) => !e.trouble).length;
  return h("section", { class: "notice", "data-kind": "fault", role: "alert" },
    h("h2", null, t("trouble.title", { what: describe(entry) })), h("p", null, entry.trouble?.message),
    later ? h("p", null, t("trouble.behind", { n: later })) : null,
    entry.trouble?.status === 409 && entry.kind === "move" ? bothSides(job, entry) : h("div", { class: "choices" },
      button(t("trouble.again"), () => void outbox.resend(entry, () => {})), button(t("trouble.drop"), () => void outbox.drop(entry), { class: "quiet" })));
}

/** What an entry is, in words. @param {Entry} entry */
export function describe(entry) {
  const what = t(`kind.${entry.kind}`);
  return [entry.row ? t("row", { n: entry.row }) : "", what, entry.text].filter(Boolean).join(" · ");
}

/** A move whose row stood elsewhere: somebody else moved it. @param {OpenJob} job @param {Entry} entry */
function bothSides(job, entry) {
  const mine = entry.body.moves[0];
  const row = job.state.rows.find((r) => r.row === entry.row);
  const style = row && job.style(row);
  const said = (/** @type {any} */ s) => settingWords(style, s, job.scale.inches);
  const now = row?.setting;
  return h("div", null,
    h("dl", { class: "facts" },
      h("dt", null, t("trouble.mine")), h("dd", null, mine.settingAfter ? `${said(mine.settingBefore)} → ${said(mine.settingAfter)}` : `${mine.count}`),
      h("dt", null, t("trouble.theirs")), h("dd", null, said(now))),
    h("div", { class: "choices" },
      button(t("trouble.keepTheirs", { setting: said(now) }), () => void outbox.drop(entry)),
      mine.settingAfter && said(mine.settingAfter) === said(now) ? null : mine.settingAfter ? button(t("trouble.keepMine", { setting: said(mine.settingAfter) }), () => void outbox.resend(entry, (body) => {
        const move = body.moves[0];
        delete move.count;
        if (now) move.settingBefore = now; else delete move.settingBefore;
        move.afterMove = row?.lastMove ?? 0;
      })) : button(t("trouble.didToo"), () => void outbox.resend(entry, (body) => { body.moves[0].afterMove = row?.lastMove ?? 0; }))));
}

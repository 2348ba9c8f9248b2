/** What a row's state means, in few words. The figures are the service's; here they only become words. */
import { t } from "./lang.js";
import { length } from "./units.js";

/** @import {Row} from "./job.js" */
/** @import {RowState} from "./shapes.js" */
/** @import {Scale} from "./units.js" */

/**
 * @param {Row|RowState} row @param {Scale} scale
 * @returns {{state: string, head: string, text: string}}
 */
export function meaning(row, scale) {
  if (row.next === "READ_AGAIN") return { state: "again", head: t("meaning.again"), text: row.why };
  if (row.fromDatumMm !== undefined) return judged(row, row.fromDatumMm, scale);
  if (row.fromOthersMm === undefined) return { state: "none", head: t("meaning.first"), text: "" };
  return { state: "none", head: apart(row.fromOthersMm, scale, "others"), text: "" };
}

/** @param {Row|RowState} row @param {number} mm @param {Scale} scale */
function judged(row, mm, scale) {
  switch (row.verdict) {
    case "EVEN": return { state: "even", head: t("verdict.EVEN"), text: apart(mm, scale, "datum") };
    case "OFF": return { state: "off", head: t("meaning.off", { by: apart(mm, scale, "datum") }), text: row.why };
    default: return { state: "again", head: t(`verdict.${row.verdict}`), text: row.why };
  }
}

/** "1/16 in deeper than the others so far". @param {number} mm @param {Scale} scale @param {"others"|"datum"} than */
export function apart(mm, scale, than) {
  const size = length(Math.abs(mm), scale);
  if (/^0 /.test(size)) return t(than === "others" ? "meaning.likeOthers" : "meaning.onDatum");
  if (than === "others") return t(mm > 0 ? "meaning.deeperOthers" : "meaning.shallowerOthers", { length: size });
  return t(mm > 0 ? "meaning.deeperDatum" : "meaning.shallowerDatum", { length: size });
}

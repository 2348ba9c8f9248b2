/** This phone: its words, its look, who holds it, what it has not sent, what its browser allows; handing it back, pairing another one. */
import { View, button, field, h, link, put, select } from "../dom.js";
import { languages, learn, spoken, t, tn, when } from "../lang.js";
import { post } from "../api.js";
import { explain, frame, title } from "../frame.js";
import { settle } from "../look.js";
import { outbox } from "../outbox.js";
import { drawSession } from "../session.js";
import { choice, choose } from "../store.js";
import { describe } from "../trouble.js";

class Settings extends View {
  unsent = h("section", { class: "panel" });

  open() {
    title(t("settings.title"));
    const session = h("div");
    put(this, this.unsent, this.choices(), session, this.pairing(), plainHttp());
    void drawSession(session);
    this.hear(outbox, "change", () => this.drawUnsent());
    this.drawUnsent();
  }

  drawUnsent() {
    const entries = outbox.entries;
    put(this.unsent, h("h2", null, entries.length ? tn("unsent", entries.length) : t("unsent.none")),
      outbox.halted ? h("p", { class: "fault" }, outbox.halted.message) : null,
      entries.length ? [h("ul", { class: "rows" }, entries.map((e) => h("li", null, h("a", { href: "#/" + e.job }, describe(e)), h("small", null, when(e.at), e.trouble ? ` · ${e.trouble.message}` : "")))),
        h("div", { class: "choices" }, button(t("unsent.send"), () => void outbox.send()), button(t("unsent.export"), exportUnsent, { class: "quiet" }))] : h("p", { class: "soft" }, t("unsent.how")));
  }

  choices() {
    const person = h("input", { type: "text", maxlength: 100, autocomplete: "name", value: choice("person") });
    person.addEventListener("change", () => choose("person", person.value.trim()));
    return h("section", { class: "panel" }, h("h2", null, t("settings.phone")), field(t("person"), person, { hint: t("person.hint") }),
      field(t("settings.language"), select(languages, spoken(), (v) => void this.speak(v))),
      field(t("settings.look"), select(["auto", "light", "dark", "sun"].map((l) => [l, t(`look.${l}`)]), choice("look") || "auto", (v) => { choose("look", v); settle(); })),
      field(t("settings.unit"), select([["", t("unit.fixture")], ["IN", t("unit.in")], ["MM", "mm"]], choice("unit"), (v) => choose("unit", v))));
  }

  /** @param {string} language */
  async speak(language) {
    choose("language", language);
    await learn(language);
    frame();
    document.querySelector("main")?.append(this);
  }

  pairing() {
    const label = h("input", { type: "text", maxlength: 100, required: true, autocomplete: "off" });
    const role = select([["TECHNICIAN", t("role.TECHNICIAN")], ["READER", t("role.READER")]], "TECHNICIAN", () => {});
    const place = h("div");
    const form = h("form", { class: "panel" }, h("h2", null, t("pair.title")), h("p", { class: "soft" }, t("pair.hint")),
      field(t("pair.label"), label), field(t("pair.role"), role), h("button", null, t("pair.make")), place);
    form.addEventListener("submit", async (e) => {
      e.preventDefault();
      try {
        const made = await post("pairings", { role: role.value, label: label.value.trim() });
        const picture = h("img", { class: "qr", alt: t("pair.alt"), src: "data:image/svg+xml," + encodeURIComponent(made.qrSvg) });
        picture.addEventListener("load", () => place.scrollIntoView({ block: "end" }));
        put(place, picture, h("p", { class: "code" }, made.code), h("p", null, t("pair.until", { when: when(made.expireTime) })));
      } catch (error) {
        explain(error);
      }
    });
    return form;
  }
}

/** What plain http lacks, and how to get it. */
function plainHttp() {
  const kept = h("p", { class: "soft" });
  void navigator.storage?.persisted?.().then((yes) => { kept.textContent = t(yes ? "storage.kept" : "storage.maybe"); });
  if (isSecureContext) return h("section", { class: "panel" }, h("h2", null, t("plain.title")), h("p", null, t("plain.secure")), kept);
  choose("plainRead", "1");
  return h("section", { class: "panel" }, h("h2", null, t("plain.title")), h("p", null, t("plain.works")), h("ul", null, h("li", null, t("plain.noShell")), h("li", null, t("plain.noLock")), h("li", null, t("plain.noPersist"))),
    h("p", null, t("plain.how")), h("pre", null, h("code", null, "rowdatumd tls init")), h("p", null, t("plain.then"), " ", link(t("plain.docs"), "/docs/access")), kept);
}

/** A file with everything that waits, for when the phone itself is in danger. */
function exportUnsent() {
  const text = JSON.stringify(outbox.entries.map(({ job, kind, row, text, at, body }) => ({ job, kind, row, text, at, body })), null, 2);
  const href = URL.createObjectURL(new Blob([text], { type: "application/json" }));
  const a = h("a", { href, download: `rowdatum-unsent-${new Date().toISOString().slice(0, 16).replace(":", "")}.json` });
  a.click();
  setTimeout(() => URL.revokeObjectURL(href), 10_000);
}

customElements.define("rd-settings", Settings);

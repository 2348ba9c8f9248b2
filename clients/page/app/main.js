/** Starts the page: its words, its look, the outbox, the view that the address names. */
import { learn, t } from "./lang.js";
import { choice } from "./store.js";
import { outbox } from "./outbox.js";
import { show } from "./router.js";
import { settle } from "./look.js";
import { frame } from "./frame.js";

settle();
const [kept] = await Promise.all([outbox.start().then(() => true, () => false), learn(choice("language"))]);
frame();
if (!kept) document.body.prepend(t("storage.none"));
addEventListener("hashchange", () => void show());
await show();
void navigator.storage?.persist?.();

// The rest of the page is fetched while the network is there; on plain http nothing else would keep it.
const rest = ["planter", "planter-form", "fixtures", "job", "walk", "plan", "moves", "sign", "card", "log", "settings"];
const fetchRest = () => Promise.all(rest.map((name) => import(`./views/${name}.js`))).catch(() => setTimeout(fetchRest, 10_000));
setTimeout(fetchRest, 1_000);

if (window.isSecureContext && "serviceWorker" in navigator) {
  const { keepShell } = await import("./shell.js");
  keepShell();
}

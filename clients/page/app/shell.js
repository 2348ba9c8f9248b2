/** Has a service worker keep the page itself, where the browser allows one, and offers a new version when there is one. */
import { t } from "./lang.js";
import { notice } from "./frame.js";

export function keepShell() {
  const first = !navigator.serviceWorker.controller;
  navigator.serviceWorker.register("/sw.js", { updateViaCache: "none" }).then((registration) => {
    registration.addEventListener("updatefound", () => {
      const next = registration.installing;
      next?.addEventListener("statechange", () => {
        if (next.state === "installed" && !first) offer(next);
      });
    });
    if (registration.waiting) offer(registration.waiting);
  }).catch(() => { /* private windows refuse; the page works without */ });
}

/** Never by itself: nobody's page changes in the middle of a walk. @param {ServiceWorker} next */
function offer(next) {
  notice(t("shell.new"), t("shell.reload"), () => {
    navigator.serviceWorker.addEventListener("controllerchange", () => location.reload());
    next.postMessage("take over");
  });
}

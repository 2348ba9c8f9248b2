/** Keeps the screen on while a view is shown, where the browser can; it is lost when the page is hidden, and asked for again. */

/** @param {AbortSignal} life */
export function stayAwake(life) {
  if (!("wakeLock" in navigator)) return;
  /** @type {WakeLockSentinel|undefined} */
  let lock;
  const ask = async () => {
    if (document.hidden || life.aborted) return;
    lock = await navigator.wakeLock.request("screen").catch(() => undefined);
    if (life.aborted) void lock?.release();
  };
  document.addEventListener("visibilitychange", () => void ask(), { signal: life });
  life.addEventListener("abort", () => void lock?.release());
  void ask();
}

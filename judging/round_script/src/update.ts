/** Registers the worker and offers a new version when it can do no harm. */

const LOOK_EVERY_MS = 30 * 60_000;

let registration: ServiceWorkerRegistration | undefined;

/**
 * Register the worker.
 *
 * @param changed called when a new version has arrived and waits
 * @returns whether the page will open without a signal
 */
export async function register(changed: () => void): Promise<boolean> {
  if (!navigator.serviceWorker) return false;
  try {
    registration = await navigator.serviceWorker.register("/round/worker.js", { scope: "/round/" });
  } catch {
    return Boolean(navigator.serviceWorker.controller);
  }
  const found = registration;
  const watch = () => found.installing?.addEventListener("statechange", changed);
  found.addEventListener("updatefound", watch);
  watch();
  let looked = Date.now();
  document.addEventListener("visibilitychange", () => {
    if (document.visibilityState !== "visible" || Date.now() - looked < LOOK_EVERY_MS) return;
    looked = Date.now();
    found.update().catch(() => undefined);
  });
  changed();
  return true;
}

/** Whether a newer version of the page waits to be used. */
export const updateWaits = (): boolean =>
  Boolean(registration?.waiting && navigator.serviceWorker.controller);

/** Whether the page is kept for opening without a signal. */
export const opensOffline = (): boolean => registration?.active?.state === "activated";

/** Use the new version: the page opens anew. */
export function takeUpdate() {
  navigator.serviceWorker.addEventListener("controllerchange", () => location.reload(), {
    once: true,
  });
  registration?.waiting?.postMessage("take-over");
}

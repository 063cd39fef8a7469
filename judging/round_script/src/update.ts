/** Registers the worker and offers a new version when it can do no harm. */

const LOOK_EVERY_MS = 30 * 60_000;

let registration: ServiceWorkerRegistration | undefined;
let kept = false;

/**
 * Register the worker.
 *
 * @param changed called when a new version has arrived and waits, or the page is kept by now
 */
export async function register(changed: () => void): Promise<void> {
  const workers = navigator.serviceWorker;
  if (!workers) return;
  registration = await workers
    .register("/round/worker.js", { scope: "/round/" })
    .catch(() => workers.getRegistration("/round/"));
  const found = registration;
  if (!found) return;
  const look = () => isKept(found).then((now) => (kept = now)).then(changed);
  const watch = () => found.installing?.addEventListener("statechange", look);
  found.addEventListener("updatefound", watch);
  watch();
  let looked = Date.now();
  document.addEventListener("visibilitychange", () => {
    if (document.visibilityState !== "visible") return;
    look();
    if (Date.now() - looked < LOOK_EVERY_MS) return;
    looked = Date.now();
    found.update().catch(() => undefined);
  });
  await look();
}

/** Whether a worker would answer, and still has this page with all it is made of. */
async function isKept({ active }: ServiceWorkerRegistration): Promise<boolean> {
  if (active?.state !== "activated") return false;
  const parts = document.querySelectorAll<HTMLScriptElement | HTMLLinkElement>(
    "script[src], link[rel=stylesheet]",
  );
  const named = [...parts].map((one) => ("src" in one ? one.src : one.href));
  try {
    const held = [location.pathname, ...named].map((path) => caches.match(path));
    return (await Promise.all(held)).every(Boolean);
  } catch {
    return false;
  }
}

/** Whether a newer version of the page waits to be used. */
export const updateWaits = (): boolean =>
  Boolean(registration?.waiting && navigator.serviceWorker.controller);

/** Whether the page is kept for opening without a signal. */
export const opensOffline = (): boolean => kept;

/** Use the new version: the page opens anew. */
export function takeUpdate() {
  navigator.serviceWorker.addEventListener("controllerchange", () => location.reload(), {
    once: true,
  });
  registration?.waiting?.postMessage("take-over");
}

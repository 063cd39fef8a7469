/**
 * Keeps the round's own files on the phone, so that the page opens with no signal.
 *
 * The server puts a line before this source that defines SHELL: the version, the page's
 * address, and each file with its hash. Marks are none of the worker's business.
 */

/** What of a worker's world is used here; the library of types has it only in place of the page's. */
interface Lasting extends Event {
  waitUntil(work: Promise<unknown>): void;
}
interface Fetching extends Event {
  readonly request: Request;
  respondWith(answer: Promise<Response>): void;
}
interface Worker {
  addEventListener(kind: "install" | "activate", does: (event: Lasting) => void): void;
  addEventListener(kind: "fetch", does: (event: Fetching) => void): void;
  addEventListener(kind: "message", does: (event: MessageEvent) => void): void;
  skipWaiting(): Promise<void>;
}
declare const SHELL: {
  version: string;
  page: string;
  files: { path: string; integrity: string }[];
};
declare const self: Worker;

const CACHE = `round-${SHELL.version}`;
const KEEP = new Set([SHELL.page, ...SHELL.files.map((file) => file.path)]);

/** Fetch every file as it is on the server now; a file of another version stops the install. */
async function keepShell(): Promise<void> {
  const cache = await caches.open(CACHE);
  const fresh: RequestInit = { cache: "reload", credentials: "omit" };
  const wanted = SHELL.files.map(
    ({ path, integrity }) => new Request(path, { ...fresh, integrity }),
  );
  await cache.addAll([new Request(SHELL.page, fresh), ...wanted]);
}

async function dropOldShells(): Promise<void> {
  for (const name of await caches.keys()) {
    if (name.startsWith("round-") && name !== CACHE) await caches.delete(name);
  }
}

async function kept(request: Request, path: string): Promise<Response> {
  const cache = await caches.open(CACHE);
  return (await cache.match(path)) ?? fetch(request);
}

self.addEventListener("install", (event) => event.waitUntil(keepShell()));
self.addEventListener("activate", (event) => event.waitUntil(dropOldShells()));
self.addEventListener("fetch", (event) => {
  const { request } = event;
  const address = new URL(request.url);
  if (request.method !== "GET" || address.origin !== location.origin) return;
  if (KEEP.has(address.pathname)) event.respondWith(kept(request, address.pathname));
});
// Only when the judge taps Update: an open card never changes under the thumb.
self.addEventListener("message", (event) => {
  if (event.data === "take-over") self.skipWaiting();
});

export {};

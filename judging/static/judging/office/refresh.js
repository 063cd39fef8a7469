/**
 * Keeps a page of the office fresh: every so often it loads itself in the background and swaps
 * the parts marked `data-live`. A part somebody is typing in, or has typed into, is left alone.
 */

const WAIT_MS = 15_000;
const KEPT = "showrun.refresh.paused";

const strip = /** @type {HTMLElement | null} */ (document.querySelector("[data-refresh]"));
const words = /** @type {HTMLElement | null} */ (document.querySelector("[data-refresh-words]"));
const button = /** @type {HTMLButtonElement | null} */ (
  document.querySelector("[data-refresh-pause]")
);
// A refused form is shown at the form's own address, which answers no plain load.
const from = strip?.dataset.refreshFrom || location.pathname;
const seconds = Number(strip?.dataset.refresh) || 20;

let paused = remembered();
let timer = 0;
let running = false;

/** @returns {boolean} */
function remembered() {
  try {
    return sessionStorage.getItem(KEPT) === "yes";
  } catch {
    return false;
  }
}

/** @param {string} text */
function say(text) {
  if (words) words.textContent = text;
}

/**
 * Whether swapping the part would take something out of somebody's hands.
 *
 * @param {Element} part
 * @returns {boolean}
 */
function inUse(part) {
  if (document.activeElement && part.contains(document.activeElement)) return true;
  if (part.querySelector("[aria-invalid]")) return true;
  return [...part.querySelectorAll("input, textarea")].some(
    (field) =>
      (field instanceof HTMLInputElement || field instanceof HTMLTextAreaElement) &&
      field.type !== "hidden" &&
      field.value !== field.defaultValue,
  );
}

/** @param {Document} fresh */
function swap(fresh) {
  for (const part of document.querySelectorAll("[data-live]")) {
    const next = fresh.getElementById(part.id);
    if (next && !inUse(part)) part.replaceWith(document.importNode(next, true));
  }
}

async function refresh() {
  if (running) return;
  running = true;
  try {
    const reply = await fetch(from, {
      cache: "no-store",
      headers: { Accept: "text/html" },
      signal: AbortSignal.timeout(WAIT_MS),
    });
    if (!reply.ok || reply.redirected) {
      pause(true);
      say("The page does not answer you any more. Load it again; you may have to sign in.");
      return;
    }
    swap(new DOMParser().parseFromString(await reply.text(), "text/html"));
    if (!paused) say(`Looks for news every ${seconds} seconds.`);
  } catch {
    say("No contact with the server; this page tries again by itself.");
  } finally {
    running = false;
  }
}

/** @param {boolean} wanted */
function pause(wanted) {
  paused = wanted;
  clearInterval(timer);
  if (!paused) timer = setInterval(() => !document.hidden && refresh(), seconds * 1000);
  say(paused ? "Paused." : `Looks for news every ${seconds} seconds.`);
  if (button) button.textContent = paused ? "Go on" : "Pause";
}

if (strip && button) {
  button.hidden = false;
  button.addEventListener("click", () => {
    pause(!paused);
    try {
      sessionStorage.setItem(KEPT, paused ? "yes" : "no");
    } catch {
      // Private windows may refuse; the setting then holds for this page only.
    }
    if (!paused) refresh();
  });
  document.addEventListener("visibilitychange", () => {
    if (!document.hidden && !paused) refresh();
  });
  pause(paused);
}

/**
 * Two small comforts of the pages of entering; both work without them.
 *
 * A form with `data-draft-to` is saved as a draft some seconds after the last change, and at once
 * when the page goes out of sight. The photo and the name under the waiver are not sent along. Who
 * was signed out meanwhile is told so, and it goes on when they are signed in again.
 *
 * An output with `data-metres-of` says a field's feet in metres.
 */

const WAIT_MS = 2_500;
const AGAIN_MS = 15_000;
const GIVE_UP_MS = 15_000;
const TOKEN = "input[name=csrfmiddlewaretoken]";
const LEFT_OUT = ["photo", "waiver_agreed_by", "waiver_version"];

class SignedOut extends Error {}

/** @param {Response} reply */
const isJson = (reply) => /json/.test(reply.headers.get("Content-Type") ?? "");

// --- The draft ---------------------------------------------------------------------------------

/** @param {HTMLFormElement} form @param {AbortSignal} signal @param {boolean} keepalive */
function post(form, signal, keepalive) {
  const body = new FormData(form);
  LEFT_OUT.forEach((name) => body.delete(name));
  const headers = { Accept: "application/json" };
  const address = form.dataset.draftTo ?? "";
  return fetch(address, { method: "POST", body, headers, redirect: "error", keepalive, signal });
}

/**
 * Take over the token of the page loaded anew: signing in again has made the old one void.
 *
 * @param {HTMLFormElement} form @param {AbortSignal} signal
 */
async function renewToken(form, signal) {
  const headers = { Accept: "text/html" };
  const page = await fetch(form.action, { headers, cache: "no-store", redirect: "manual", signal });
  const fresh = new DOMParser().parseFromString(page.ok ? await page.text() : "", "text/html");
  const theirs = fresh.querySelector("form[data-draft-to]");
  // Nobody is signed in, or somebody else.
  if (theirs?.getAttribute("data-draft-of") !== form.dataset.draftOf) throw new SignedOut();
  for (const token of document.querySelectorAll(TOKEN)) {
    token.value = theirs?.querySelector(TOKEN)?.value ?? "";
  }
}

/** @param {HTMLFormElement} form @param {HTMLElement} words */
function keepDraft(form, words) {
  const signIn = form.querySelector("[data-draft-sign-in]");
  let timer = 0;
  let unsaved = false;
  let sentOff = false;
  let signedOut = false;
  /** @type {AbortController | null} */
  let underWay = null;

  /** @param {number} ms */
  const saveIn = (ms) => {
    clearTimeout(timer);
    timer = setTimeout(() => save(), ms);
  };
  /** @param {boolean} out */
  const sayWhetherOut = (out) => {
    signedOut = out;
    if (signIn instanceof HTMLElement) signIn.hidden = !out;
  };
  const changed = () => {
    if (sentOff) return;
    unsaved = true;
    saveIn(WAIT_MS);
  };

  /** @param {boolean} [leaving] */
  async function save(leaving = false) {
    clearTimeout(timer);
    if (!unsaved || sentOff) return;
    if (underWay && !leaving) return saveIn(WAIT_MS);
    unsaved = false;
    underWay = new AbortController();
    const { signal } = underWay;
    const tooLong = setTimeout(() => underWay?.abort(), GIVE_UP_MS);
    try {
      let reply = await post(form, signal, leaving);
      if (reply.status === 401 || (reply.status === 403 && !isJson(reply))) {
        await renewToken(form, signal);
        reply = await post(form, signal, leaving);
      }
      const told = isJson(reply) ? await reply.json() : {};
      if (!reply.ok) throw new Error(told.words ?? "");
      words.textContent = told.words;
      sayWhetherOut(false);
    } catch (fault) {
      if (sentOff) return;
      sayWhetherOut(fault instanceof SignedOut);
      // A refusal stands until something is changed; all else is tried again.
      const refused = fault instanceof Error && fault.constructor === Error;
      const { saidUnsaved, saidSignedOut, saidNoSignal } = form.dataset;
      const why = refused ? fault.message : signedOut ? saidSignedOut : saidNoSignal;
      words.textContent = `${saidUnsaved} ${why}`;
      if (!refused) {
        unsaved = true;
        saveIn(AGAIN_MS);
      }
    } finally {
      clearTimeout(tooLong);
      underWay = null;
    }
  }

  form.addEventListener("input", changed);
  form.addEventListener("change", changed);
  form.addEventListener("submit", (event) => {
    // Sent off now, it would only lead to the page for signing in, and be gone.
    if (signedOut) {
      event.preventDefault();
      save();
      return;
    }
    sentOff = true;
    clearTimeout(timer);
    underWay?.abort();
  });
  // Come back to by the browser's own button, the page is in use again.
  addEventListener("pageshow", () => {
    sentOff = false;
  });
  addEventListener("online", () => save());
  document.addEventListener("visibilitychange", () => {
    if (document.visibilityState === "hidden") save(true);
    else if (signedOut) save();
  });
}

const form = document.querySelector("form[data-draft-to]");
const words = document.querySelector("[data-draft-words]");
if (form instanceof HTMLFormElement && words instanceof HTMLElement) keepDraft(form, words);

// --- Feet in metres ------------------------------------------------------------------------------

for (const output of document.querySelectorAll("output[data-metres-of]")) {
  const field = document.getElementById(output.getAttribute("data-metres-of") ?? "");
  field?.addEventListener("input", () => {
    const feet = /^\s*(\d{1,5})\s*(?:ft|feet|foot|'|’|′)?\.?\s*$/i.exec(field.value);
    output.textContent = feet ? ` = ${(Math.round(Number(feet[1]) * 3.048) / 10).toFixed(1)} m` : "";
  });
}

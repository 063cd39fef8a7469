/**
 * Two small comforts of the pages of entering; both work without them.
 *
 * A form with `data-draft-to` is saved as a draft some seconds after the last change, and at once
 * when the page goes out of sight. The photo and the name under the waiver are not sent along. An
 * output with `data-metres-of` says a field's feet in metres.
 */

const WAIT_MS = 2_500;
const AGAIN_MS = 15_000;
const GIVE_UP_MS = 15_000;
const LEFT_OUT = ["photo", "waiver_agreed_by", "waiver_version"];

// --- The draft ---------------------------------------------------------------------------------

/** @param {HTMLFormElement} form @param {HTMLElement} words */
function keepDraft(form, words) {
  let timer = 0;
  let unsaved = false;
  let sentOff = false;
  /** @type {AbortController | null} */
  let underWay = null;

  /** @param {number} ms */
  const saveIn = (ms) => {
    clearTimeout(timer);
    timer = setTimeout(() => save(), ms);
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
    const body = new FormData(form);
    LEFT_OUT.forEach((name) => body.delete(name));
    underWay = new AbortController();
    const tooLong = setTimeout(() => underWay?.abort(), GIVE_UP_MS);
    try {
      const reply = await fetch(form.dataset.draftTo ?? "", {
        method: "POST",
        body,
        headers: { Accept: "application/json" },
        redirect: "error",
        keepalive: leaving,
        signal: underWay.signal,
      });
      const told = /json/.test(reply.headers.get("Content-Type") ?? "") ? await reply.json() : {};
      if (!reply.ok) throw new Error(told.words ?? "");
      words.textContent = told.words;
    } catch (fault) {
      if (sentOff) return;
      // A refusal stands until something is changed; without signal it is tried again.
      const refused = fault instanceof Error && fault.constructor === Error;
      words.textContent = `${form.dataset.saidUnsaved} ${refused ? fault.message : form.dataset.saidNoSignal}`;
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
  form.addEventListener("submit", () => {
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

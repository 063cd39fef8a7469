/**
 * Narrows the list at the gate while a number or a name is typed. Without this script the form
 * does the same with a press of its button. The list may be swapped for a fresh one at any time.
 */

const field = /** @type {HTMLInputElement | null} */ (document.querySelector("#gate-q"));
const list = document.querySelector("[data-gate-list]");
const none = /** @type {HTMLElement | null} */ (document.querySelector("[data-gate-none]"));
// What the server has narrowed by already: the rest is not on this page, so the form must ask.
const asked = field?.value.trim() ?? "";

/** @param {HTMLElement} line @param {string} words @returns {boolean} */
function answers(line, words) {
  if (/^\d+$/.test(words)) return (line.dataset.number ?? "").startsWith(words.replace(/^0+/, ""));
  const names = (line.dataset.names ?? "").toLowerCase();
  return words
    .toLowerCase()
    .split(/\s+/)
    .every((word) => names.includes(word));
}

function narrow() {
  const words = field?.value.trim() ?? "";
  const lines = /** @type {NodeListOf<HTMLElement>} */ (list?.querySelectorAll(".gate-line") ?? []);
  let shown = 0;
  for (const line of lines) {
    line.hidden = words !== "" && !answers(line, words);
    if (!line.hidden) shown += 1;
  }
  if (none) none.hidden = shown > 0 || lines.length === 0;
}

if (field && list && !asked) {
  field.addEventListener("input", narrow);
  new MutationObserver(narrow).observe(list, { childList: true });
  narrow();
}

/** A judge's words on a section, for the exhibitor. */

import { h, say } from "./draw.js";

/** @import {Round} from "./round.js" */
/** @import {Section, Wagon} from "./types.js" */

const LONGEST = 300;

/** What is typed and not yet saved, by wagon and section, so that a redraw loses nothing. */
const drafts = /** @type {Map<string, string>} */ (new Map());
const saving = /** @type {Map<string, Promise<boolean>>} */ (new Map());

/**
 * @param {Round} round
 * @param {Wagon} wagon
 * @param {Section} section
 * @param {() => void} paint
 * @returns {HTMLElement}
 */
export function drawRemark(round, wagon, section, paint) {
  const key = `${wagon.entry.id}-${section.code}`;
  const id = `remark-${section.code}`;
  const text = drafts.get(key) ?? wagon.card.remarks[section.code] ?? "";
  const locked = wagon.card.handed_in;
  const keep = async (/** @type {string} */ words) => {
    drafts.set(key, words);
    await saving.get(key);
    const saved = round.remark(wagon.entry.id, section.code, words);
    saving.set(key, saved);
    if (!(await saved)) return;
    if (drafts.get(key) === words) drafts.delete(key);
    say(`Remark on ${section.name} saved.`);
    paint();
  };
  const field = /** @type {HTMLTextAreaElement} */ (
    h("textarea", {
      id: `${id}-text`,
      rows: 3,
      maxlength: LONGEST,
      disabled: locked,
      oninput: () => drafts.set(key, field.value),
      onchange: () => keep(field.value),
    })
  );
  field.value = text;
  return h(
    "details",
    { class: "remark", id },
    h(
      "summary",
      {},
      `Remark on ${section.name.toLowerCase()}`,
      text ? h("span", { class: "has" }, " ✓ written") : null,
    ),
    locked ? null : drawPhrases(section, (phrase) => keep(join(field.value, phrase))),
    h("label", { for: `${id}-text` }, "For the exhibitor, in your words"),
    field,
    h(
      "p",
      { class: "hint" },
      drafts.has(key) ? "Not saved yet." : text ? "Saved." : `Up to ${LONGEST} letters.`,
    ),
    locked
      ? null
      : h(
          "button",
          { type: "button", class: "big", onclick: () => keep(field.value) },
          "Save remark",
        ),
  );
}

/** @param {Section} section @param {(phrase: string) => void} add */
function drawPhrases(section, add) {
  return h(
    "div",
    { class: "phrases", role: "group", "aria-label": "Quick phrases" },
    section.quick_phrases.map((phrase) =>
      h("button", { type: "button", class: "phrase", onclick: () => add(phrase) }, phrase),
    ),
  );
}

/** @param {string} text @param {string} phrase */
function join(text, phrase) {
  const before = text.trim();
  if (before.includes(phrase)) return before;
  const stop = before && !/[.!?]$/.test(before) ? "." : "";
  const joined = before ? `${before}${stop} ${phrase}.` : `${phrase}.`;
  return joined.length > LONGEST ? before : joined;
}

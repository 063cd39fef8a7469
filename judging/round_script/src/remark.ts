/** A judge's words on a section, for the exhibitor. */

import { h, say } from "./draw.ts";
import { gettext, own, ownLanguage, pieces } from "./language.ts";
import type { Round } from "./round.ts";
import type { Section, Wagon } from "./types.ts";

const LONGEST = 300;

/** What is typed and not yet saved, by wagon and section, so that a redraw loses nothing. */
const drafts = new Map() as Map<string, string>;
const saving = new Map() as Map<string, Promise<boolean>>;

export function drawRemark(
  round: Round,
  wagon: Wagon,
  section: Section,
  paint: () => void,
): HTMLElement {
  const key = `${wagon.entry.id}-${section.code}`;
  const id = `remark-${section.code}`;
  const text = drafts.get(key) ?? wagon.card.remarks[section.code] ?? "";
  const locked = wagon.card.handed_in;
  const keep = async (words: string) => {
    drafts.set(key, words);
    await saving.get(key);
    const saved = round.remark(wagon.entry.id, section.code, words);
    saving.set(key, saved);
    if (!(await saved)) return;
    if (drafts.get(key) === words) drafts.delete(key);
    say(pieces(gettext("Remark on {section} saved."), { section: own(section.name) }));
    paint();
  };
  const field = h("textarea", {
    id: `${id}-text`,
    rows: 3,
    maxlength: LONGEST,
    disabled: locked,
    oninput: () => drafts.set(key, field.value),
    onchange: () => keep(field.value),
  }) as HTMLTextAreaElement;
  field.value = text;
  return h(
    "details",
    { class: "remark", id },
    h(
      "summary",
      {},
      // One thing to the summary's line, whose parts stand apart.
      h(
        "span",
        {},
        pieces(gettext("Remark on {section}"), { section: own(section.name.toLowerCase()) }),
      ),
      text ? h("span", { class: "has" }, ` ✓ ${gettext("written")}`) : null,
    ),
    locked ? null : drawPhrases(section, (phrase) => keep(join(field.value, phrase))),
    h("label", { for: `${id}-text` }, gettext("For the exhibitor, in your words")),
    field,
    h(
      "p",
      { class: "hint" },
      hintWords(drafts.has(key), text !== ""),
    ),
    locked
      ? null
      : h(
          "button",
          { type: "button", class: "big", onclick: () => keep(field.value) },
          gettext("Save remark"),
        ),
  );
}

function hintWords(unsaved: boolean, written: boolean) {
  if (unsaved) return gettext("Not saved yet.");
  return written ? gettext("Saved.") : gettext("Up to {n} letters.", { n: LONGEST });
}

function drawPhrases(section: Section, add: (phrase: string) => void) {
  return h(
    "div",
    { class: "phrases", role: "group", "aria-label": gettext("Quick phrases") },
    section.quick_phrases.map((phrase) =>
      h("button", { type: "button", class: "phrase", lang: ownLanguage(), onclick: () => add(phrase) }, phrase),
    ),
  );
}

function join(text: string, phrase: string) {
  const before = text.trim();
  if (before.includes(phrase)) return before;
  const stop = before && !/[.!?]$/.test(before) ? "." : "";
  const joined = before ? `${before}${stop} ${phrase}.` : `${phrase}.`;
  return joined.length > LONGEST ? before : joined;
}

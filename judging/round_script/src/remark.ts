/** A judge's words on a section, for the exhibitor. */

import { h, say } from "./draw.ts";
import { gettext, own, ownLanguage, pieces } from "./language.ts";
import { LONGEST, hintWords, tidyRemark } from "./remark_words.ts";
import type { Round } from "./round.ts";
import type { Section, Wagon } from "./types.ts";

/** So long after the last key the words are kept. */
const PAUSE_MS = 1_000;

/** Where words lie that a page was closed over. */
const LEFT = "round-remarks";

interface Typed {
  device: number;
  entry: number;
  section: string;
  words: string;
}
interface Draft extends Typed {
  keep: () => Promise<boolean>;
  timer?: ReturnType<typeof setTimeout>;
}

/** What is typed and not yet kept, by pairing, wagon and section, so that a redraw loses nothing. */
const drafts = new Map() as Map<string, Draft>;
const saving = new Map() as Map<string, Promise<boolean>>;

/** Keep at once whatever is typed. */
export function keepRemarks() {
  for (const { keep } of [...drafts.values()]) keep();
}

/** The page closes, and the store takes longer than it has: lay the words by at once. */
export function leaveRemarks() {
  keepRemarks();
  const left = [...drafts.values()].map(({ keep, timer, ...typed }): Typed => typed);
  try {
    if (left.length) localStorage.setItem(LEFT, JSON.stringify(left));
  } catch {
    // The store may still be quick enough.
  }
}

/** Keep what was laid by when the page was closed; it is there once. */
export async function takeUpRemarks(round: Round) {
  let left: Typed[] = [];
  try {
    left = JSON.parse(localStorage.getItem(LEFT) ?? "[]");
    localStorage.removeItem(LEFT);
  } catch {
    // Nothing can be laid by here.
  }
  for (const { device, entry, section, words } of left) {
    if (device === round.device?.id) await round.remark(entry, section, words);
  }
}

export function drawRemark(
  round: Round,
  wagon: Wagon,
  section: Section,
  paint: () => void,
): HTMLElement {
  const device = round.device?.id ?? 0;
  const place = { device, entry: wagon.entry.id, section: section.code };
  const key = `${device}-${wagon.entry.id}-${section.code}`;
  const id = `remark-${section.code}`;
  const kept = () => round.wagon(wagon.entry.id)?.card.remarks[section.code] ?? "";
  if (tidyRemark(drafts.get(key)?.words ?? "") === kept()) note(key, null);
  const locked = wagon.card.handed_in;
  const save = async (words: string) => {
    note(key, { ...place, words, keep: () => save(words) });
    await saving.get(key);
    // The words are of whoever typed them.
    if (round.device?.id !== device) return false;
    const saved = round.remark(wagon.entry.id, section.code, words);
    saving.set(key, saved);
    if (!(await saved)) return false;
    if (drafts.get(key)?.words === words) note(key, null);
    tell(key, kept());
    return true;
  };
  const type = () => {
    const keep = () => save(field.value);
    note(key, { ...place, words: field.value, keep, timer: setTimeout(keep, PAUSE_MS) });
    tell(key, kept());
  };
  const finish = async (words: string) => {
    if (!(await save(words))) return;
    say(pieces(gettext("Remark on {section} saved."), { section: own(section.name) }));
    paint();
  };
  const field = h("textarea", {
    id: `${id}-text`,
    rows: 3,
    maxlength: LONGEST,
    disabled: locked,
    "data-remark": key,
    "aria-describedby": `${id}-hint`,
    oninput: type,
    onchange: () => finish(field.value),
  }) as HTMLTextAreaElement;
  field.value = drafts.get(key)?.words ?? kept();
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
      kept() ? h("span", { class: "has" }, ` ✓ ${gettext("written")}`) : null,
    ),
    locked ? null : drawPhrases(section, (phrase) => finish(join(field.value, phrase))),
    h("label", { for: `${id}-text` }, gettext("For the exhibitor, in your words")),
    field,
    h("p", { class: "hint", id: `${id}-hint` }, hintWords(field.value, kept())),
    locked
      ? null
      : h(
          "button",
          { type: "button", class: "big", onclick: () => finish(field.value) },
          gettext("Save remark"),
        ),
  );
}

/** Put a draft in place of the one there, whose pause is over. */
function note(key: string, draft: Draft | null) {
  clearTimeout(drafts.get(key)?.timer);
  if (draft) drafts.set(key, draft);
  else drafts.delete(key);
}

/** Say in place, while the keys stay up, whether the words shown are the words kept. */
function tell(key: string, kept: string) {
  const field = document.querySelector<HTMLTextAreaElement>(
    `textarea[data-remark="${CSS.escape(key)}"]`,
  );
  const hint = field?.closest(".remark")?.querySelector(".hint");
  if (field && hint) hint.textContent = hintWords(field.value, kept);
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

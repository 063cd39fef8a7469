/** Who keys on this phone: the judge, or somebody who writes for the judge. */

import { h, say } from "./draw.ts";
import { gettext } from "./language.ts";
import type { Round } from "./round.ts";

const LONGEST = 80;

/** What is being typed; undefined where nothing is. */
let typed: string | undefined;

/** Return a name as it is kept: on one line, and not too long. */
export const tidyName = (given: string): string =>
  [...given.replace(/\s+/g, " ").trim()].slice(0, LONGEST).join("").trim();

/** Name both people, where somebody keys for the judge. */
export function drawWho(round: Round): HTMLElement | null {
  const judge = round.bundle?.judge.name ?? "";
  if (!round.keyedBy) return null;
  return h(
    "p",
    { class: "who" },
    gettext("Judge: {judge}. Keyed by: {scribe}.", { judge, scribe: round.keyedBy }),
  );
}

/** Said to the judge before signing, where somebody else has keyed. */
export const lookWords = (round: Round): string =>
  round.keyedBy
    ? gettext("{judge}, look through the card before you sign.", {
        judge: round.bundle?.judge.name ?? "",
      })
    : "";

/** Ask who keys. */
export function drawScribe(round: Round, paint: () => void): HTMLElement | null {
  const judge = round.bundle?.judge.name;
  if (!judge) return null;
  const other = typed !== undefined || round.keyedBy !== "";
  const keep = async (name: string) => {
    typed = undefined;
    await round
      .noteKeys(name)
      .then(() => say(gettext("{name} keys from now on.", { name: name || judge })))
      .catch(() => say(gettext("Not saved. Free some space on this phone, then try again.")));
    paint();
  };
  return h(
    "section",
    { id: "scribe" },
    h("h2", { id: "scribe-title" }, gettext("Who keys?")),
    h(
      "div",
      { class: "choices", role: "group", "aria-labelledby": "scribe-title" },
      h(
        "button",
        { type: "button", id: "keys-judge", "aria-pressed": !other, onclick: () => keep("") },
        judge,
      ),
      h(
        "button",
        {
          type: "button",
          id: "keys-other",
          "aria-pressed": other,
          onclick: () => {
            typed = round.keyedBy;
            paint();
            document.getElementById("keys-name")?.focus();
          },
        },
        gettext("Another person"),
      ),
    ),
    other ? drawName(round, keep) : null,
    h(
      "p",
      { class: "hint" },
      gettext("Each touch is kept with the name of who keyed it. The judge signs."),
    ),
  );
}

function drawName(round: Round, keep: (name: string) => void) {
  const field = h("input", {
    type: "text",
    id: "keys-name",
    maxlength: LONGEST,
    autocomplete: "off",
    oninput: () => (typed = field.value),
  }) as HTMLInputElement;
  field.value = typed ?? round.keyedBy;
  const submit = (event: Event) => {
    event.preventDefault();
    keep(tidyName(field.value));
  };
  return h(
    "form",
    { onsubmit: submit },
    h("label", { for: "keys-name" }, gettext("Name of who keys for the judge")),
    field,
    h("button", { type: "submit", id: "keys-save", class: "big" }, gettext("Save this name")),
  );
}

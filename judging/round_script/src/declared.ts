/** What the classes declare: read before the first wagon, and at hand after it. */

import { h, say } from "./draw.ts";
import { gettext, ownLanguage } from "./language.ts";
import type { Round } from "./round.ts";
import type { Bundle, Section, StateWords } from "./types.ts";

/** What the judge reads, as one text: when a word of it changes, it is to be read again. */
const wordsOf = ({ card, policies_by_class }: Bundle) =>
  policies_by_class.length || card.notice
    ? JSON.stringify([card.notice, policies_by_class.map(({ name, lines }) => [name, lines])])
    : "";

/** Whether something is declared that is not read yet. */
export function isUnread(round: Round): boolean {
  const words = round.bundle ? wordsOf(round.bundle) : "";
  return words !== "" && words !== round.read;
}

/** Show what is declared: open until the judge has read it, folded away afterwards. */
export function drawDeclared(round: Round, paint: () => void): HTMLElement | null {
  const { bundle } = round;
  if (!bundle || !wordsOf(bundle)) return null;
  const kids = [
    bundle.card.notice ? h("p", { lang: ownLanguage() }, bundle.card.notice) : null,
    ...bundle.policies_by_class.map(({ name, lines }) =>
      h(
        "div",
        {},
        h("h3", { lang: ownLanguage() }, name),
        h(
          "ul",
          {},
          lines.map((line) => h("li", {}, line)),
        ),
      ),
    ),
  ];
  if (!isUnread(round)) {
    return h(
      "details",
      { id: "declared", class: "rules" },
      h("summary", {}, gettext("What the classes declare")),
      kids,
    );
  }
  const have = async () => {
    await round.noteRead(wordsOf(bundle));
    say(gettext("Noted. You find it again further down."));
    paint();
    document.getElementById("list-title")?.focus();
  };
  return h(
    "section",
    { id: "declared", class: "note declared", "aria-labelledby": "declared-title" },
    h("h2", { id: "declared-title" }, gettext("Before the first wagon")),
    kids,
    h(
      "button",
      { type: "button", id: "have-read", class: "big", onclick: have },
      gettext("I have read this"),
    ),
  );
}

/** One line on top of a card, until what is declared has been read. */
export const drawReminder = (round: Round) =>
  isUnread(round)
    ? h(
        "a",
        { id: "remind", class: "remind", href: "#" },
        gettext("Read first what the classes declare"),
      )
    : null;

/** Say what zero and the two states do in this section; where classes differ, for each of them. */
export function effectsOf(round: Round, section: Section): string[] {
  const classes = (round.bundle?.policies_by_class ?? []).filter(
    ({ sections, states }) => states && sections.includes(section.code),
  );
  return statesIn(section).flatMap((state) => {
    const said = [...new Set(classes.map(({ states }) => states[state]))];
    if (said.length < 2) return said;
    return said.map((words) => {
      const names = classes.filter(({ states }) => states[state] === words).map(({ name }) => name);
      return `${names.join(", ")}: ${words}`;
    });
  });
}

/** The keys that are on the section's pads. */
function statesIn({ form }: Section): (keyof StateWords)[] {
  if (form === "placings") return [];
  return form === "pass_fail"
    ? ["not_applicable", "not_inspected"]
    : ["zero", "not_applicable", "not_inspected"];
}

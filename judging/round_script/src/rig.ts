/** The rig as the judge finds it at the wagon: said once, and the card forms anew at once. */

import { changeOf, sameRig } from "./card.ts";
import { h } from "./draw.ts";
import { gettext, ngettext, ownLanguage, pieces } from "./language.ts";
import { newId } from "./outbox.ts";
import { openSheet } from "./sheet.ts";
import { markWords, rigWords, wagonPieces } from "./words.ts";
import type { Round } from "./round.ts";
import type { CardState, RigFact, Wagon } from "./types.ts";

const LONGEST = 300;

/** Say what another rig does to a card, such as "4 rows fewer, 2 more; 3 marks kept aside". */
function changeWords({ fewer, more, aside, back }: ReturnType<typeof changeOf>): string {
  const moreWords = fewer
    ? ngettext("{n} more", "{n} more", more)
    : ngettext("{n} row more", "{n} rows more", more);
  const rows = [
    fewer && ngettext("{n} row fewer", "{n} rows fewer", fewer),
    more && moreWords,
  ];
  const parts = [
    rows.filter(Boolean).join(", ") || gettext("the same rows"),
    aside && ngettext("{n} mark kept aside", "{n} marks kept aside", aside),
    back && ngettext("{n} mark back from aside", "{n} marks back from aside", back),
  ];
  return parts.filter(Boolean).join("; ");
}

/**
 * Show the rig of the card, where it is from, and what the office made of it.
 *
 * @param changed called when the judge has said another rig
 */
export function drawRig(
  round: Round,
  wagon: Wagon,
  changed: (said: string) => void,
): (HTMLElement | null)[] {
  const facts = round.bundle?.rig_facts ?? [];
  const { report } = wagon;
  const different = h(
    "button",
    { type: "button", id: "rig-different", onclick: () => correctRig(round, wagon, changed) },
    gettext("The rig is different"),
  );
  return [
    h("p", { class: "rig" }, wagon.rig_words),
    report
      ? h(
          "div",
          { class: "found", id: "rig-found", "data-state": report.state },
          origin(facts, wagon).map((line) => h("p", {}, line)),
          report.text ? h("p", {}, gettext("You wrote: “{text}”", { text: report.text })) : null,
          h("p", { class: "settled" }, settlement(round, wagon)),
        )
      : null,
    // Without the facts' words there is nothing to choose from: a round fetched before an update.
    wagon.card.handed_in || wagon.scratched || !facts.length ? null : different,
  ];
}

function origin(facts: RigFact[], { rig, entry }: Wagon): string[] {
  const other = facts
    .map(({ fact }) => fact)
    .filter((fact) => rig[fact] !== entry.rig_entered[fact]);
  return other.length
    ? [
        gettext("As found by you; entered: {rig}.", {
          rig: rigWords(facts, entry.rig_entered, other),
        }),
      ]
    : [];
}

function settlement(round: Round, { entry, report }: Wagon) {
  const here = round.waiting.some(({ body }) => body.kind === "rig" && body.entry === entry.id);
  if (here) return gettext("Not at the office yet. Go on marking; it is sent when there is a signal.");
  const note = report?.note ? ` “${report.note}”` : "";
  if (report?.state === "adopted") return `✓ ${gettext("The office adopted the rig you found.")}${note}`;
  if (report?.state === "declined") return `${gettext("The office kept the rig as entered.")}${note}`;
  return gettext("With the office for a decision.");
}

/** Open the sheet in which a judge says what the rig is. */
function correctRig(round: Round, wagon: Wagon, changed: (said: string) => void) {
  const bundle = round.bundle;
  if (!bundle) return;
  const id = newId();
  const chosen = { ...wagon.rig };
  const preview = h("p", { id: "rig-change", role: "status" });
  const fault = h("p", { class: "fault", role: "alert" });
  const field = h("input", {
    type: "text",
    id: "rig-text",
    maxlength: LONGEST,
    autocomplete: "off",
  }) as HTMLInputElement;
  const told = () => changeWords(changeOf(bundle.card, wagon, chosen));
  const choose = (fact: string, value: string) => {
    chosen[fact] = value;
    fault.textContent = "";
    preview.textContent = sameRig(chosen, wagon.rig)
      ? ""
      : gettext("On your card: {change}.", { change: told() });
  };
  const save = async (close: () => void) => {
    if (sameRig(chosen, wagon.rig)) {
      fault.textContent = gettext(
        "This is the rig the card has already. Choose what is different.",
      );
      return;
    }
    const said = gettext("The rig is changed: {change}.", { change: told() });
    const text = field.value.replace(/\s+/g, " ").trim();
    if (!(await round.correctRig(wagon.entry.id, chosen, text, id))) {
      fault.textContent = gettext("Not saved. Try again.");
      return;
    }
    round.sync.nudge(0);
    close();
    changed(said);
  };
  openSheet({
    id: "rig-title",
    title: pieces(gettext("The rig of {wagon}"), {
      wagon: h("span", {}, wagonPieces(wagon.entry)),
    }),
    kind: "calm",
    draw: (close) => [
      h(
        "p",
        {},
        gettext(
          "Choose what stands before you. Your card changes at once, and the office is told.",
        ),
      ),
      bundle.rig_facts.map((fact) => drawFact(fact, wagon, choose)),
      h("label", { for: "rig-text" }, gettext("What you saw (you may leave this empty)")),
      field,
      preview,
      fault,
      h(
        "div",
        { class: "pair" },
        h(
          "button",
          { type: "button", id: "rig-save", class: "big", onclick: () => save(close) },
          gettext("Save"),
        ),
        h("button", { type: "button", class: "plainly", onclick: close }, gettext("Cancel")),
      ),
    ],
  });
}

function drawFact(
  { fact, words, values }: RigFact,
  { rig, entry }: Wagon,
  choose: (fact: string, value: string) => void,
) {
  const entered = entry.rig_entered[fact];
  return h(
    "fieldset",
    { class: "fact" },
    h("legend", {}, words),
    values.map((one) =>
      h(
        "label",
        { class: "value" },
        h("input", {
          type: "radio",
          name: `rig-${fact}`,
          value: one.value,
          checked: rig[fact] === one.value,
          onchange: () => choose(fact, one.value),
        }),
        h(
          "span",
          {},
          one.words,
          one.value === entered && rig[fact] !== entered ? h("small", {}, ` ${gettext("(entered)")}`) : null,
        ),
      ),
    ),
  );
}

/**
 * List the marks that wait for a row the rig does not have, and those on rows of an earlier card.
 */
export function drawAside(round: Round, wagon: Wagon): HTMLElement[] {
  const rows = round.bundle?.card.sections.flatMap((part) => part.criteria) ?? [];
  const { aside, earlier } = wagon.card;
  const off = rows.flatMap(({ code, name, form }): CardState["earlier"] => {
    const mark = aside[code];
    return mark ? [{ code, name, form, ...mark }] : [];
  });
  const blocks = [
    drawKept(
      "aside",
      gettext("Kept aside: not on this rig"),
      gettext(
        "These marks are kept and do not count. They are back as soon as the rig has the row again.",
      ),
      off,
    ),
    drawKept(
      "earlier",
      gettext("Kept aside: rows of an earlier card"),
      gettext(
        "The office changed the card after you marked these. They are kept and do not count.",
      ),
      earlier,
    ),
  ];
  return blocks.filter((block) => block !== null);
}

function drawKept(id: string, title: string, words: string, kept: CardState["earlier"]) {
  if (!kept.length) return null;
  const lines = kept.map((mark) =>
    h(
      "li",
      { "data-aside": mark.code },
      h("span", { lang: ownLanguage() }, mark.name),
      h("strong", {}, markWords(mark, mark)),
    ),
  );
  return h(
    "section",
    { class: "aside", id, "aria-labelledby": `${id}-title` },
    h("h2", { id: `${id}-title` }, title),
    h("p", {}, words),
    h("ul", {}, lines),
  );
}

/** The rig as the judge finds it at the wagon: said once, and the card forms anew at once. */

import { changeOf, sameRig } from "./card.js";
import { h } from "./draw.js";
import { newId } from "./outbox.js";
import { openSheet } from "./sheet.js";
import { markWords, rigWords, some, wagonWords } from "./words.js";

/** @import {Round} from "./round.js" */
/** @import {Form, Mark, RigFact, Wagon} from "./types.js" */

const LONGEST = 300;
const SAME = "This is the rig the card has already. Choose what is different.";

/**
 * Say what another rig does to a card, such as "4 rows fewer, 2 more; 3 marks kept aside".
 *
 * @param {ReturnType<typeof changeOf>} change
 * @returns {string}
 */
function changeWords({ fewer, more, aside, back }) {
  const rows = [
    fewer && `${some(fewer, "row")} fewer`,
    more && `${fewer ? more : some(more, "row")} more`,
  ];
  const parts = [
    rows.filter(Boolean).join(", ") || "the same rows",
    aside && `${some(aside, "mark")} kept aside`,
    back && `${some(back, "mark")} back from aside`,
  ];
  return parts.filter(Boolean).join("; ");
}

/**
 * Show the rig of the card, where it is from, and what the office made of it.
 *
 * @param {Round} round
 * @param {Wagon} wagon
 * @param {(said: string) => void} changed called when the judge has said another rig
 * @returns {(HTMLElement | null)[]}
 */
export function drawRig(round, wagon, changed) {
  const facts = round.bundle?.rig_facts ?? [];
  const { report } = wagon;
  const different = h(
    "button",
    { type: "button", id: "rig-different", onclick: () => correctRig(round, wagon, changed) },
    "The rig is different",
  );
  return [
    h("p", { class: "rig" }, wagon.rig_words),
    report
      ? h(
          "div",
          { class: "found", id: "rig-found", "data-state": report.state },
          origin(facts, wagon).map((line) => h("p", {}, line)),
          report.text ? h("p", {}, `You wrote: “${report.text}”`) : null,
          h("p", { class: "settled" }, settlement(round, wagon)),
        )
      : null,
    // Without the facts' words there is nothing to choose from: a round fetched before an update.
    wagon.card.handed_in || !facts.length ? null : different,
  ];
}

/** @param {RigFact[]} facts @param {Wagon} wagon @returns {string[]} */
function origin(facts, { rig, entry }) {
  const other = facts
    .map(({ fact }) => fact)
    .filter((fact) => rig[fact] !== entry.rig_entered[fact]);
  return other.length
    ? [`As found by you; entered: ${rigWords(facts, entry.rig_entered, other)}.`]
    : [];
}

/** @param {Round} round @param {Wagon} wagon */
function settlement(round, { entry, report }) {
  const here = round.waiting.some(({ body }) => body.kind === "rig" && body.entry === entry.id);
  if (here) return "Not at the office yet. Go on marking; it is sent when there is a signal.";
  const note = report?.note ? ` “${report.note}”` : "";
  if (report?.state === "adopted") return `✓ The office adopted the rig you found.${note}`;
  if (report?.state === "declined") return `The office kept the rig as entered.${note}`;
  return "With the office for a decision.";
}

/**
 * Open the sheet in which a judge says what the rig is.
 *
 * @param {Round} round
 * @param {Wagon} wagon
 * @param {(said: string) => void} changed
 */
function correctRig(round, wagon, changed) {
  const bundle = round.bundle;
  if (!bundle) return;
  const id = newId();
  const chosen = { ...wagon.rig };
  const preview = h("p", { id: "rig-change", role: "status" });
  const fault = h("p", { class: "fault", role: "alert" });
  const field = /** @type {HTMLInputElement} */ (
    h("input", { type: "text", id: "rig-text", maxlength: LONGEST, autocomplete: "off" })
  );
  const told = () => changeWords(changeOf(bundle.card, wagon, chosen));
  const choose = (/** @type {string} */ fact, /** @type {string} */ value) => {
    chosen[fact] = value;
    fault.textContent = "";
    preview.textContent = sameRig(chosen, wagon.rig) ? "" : `On your card: ${told()}.`;
  };
  const save = async (/** @type {() => void} */ close) => {
    if (sameRig(chosen, wagon.rig)) {
      fault.textContent = SAME;
      return;
    }
    const said = `The rig is changed: ${told()}.`;
    const text = field.value.replace(/\s+/g, " ").trim();
    if (!(await round.correctRig(wagon.entry.id, chosen, text, id))) {
      fault.textContent = "Not saved. Try again.";
      return;
    }
    round.sync.nudge(0);
    close();
    changed(said);
  };
  openSheet({
    id: "rig-title",
    title: `The rig of ${wagonWords(wagon.entry)}`,
    kind: "calm",
    draw: (close) => [
      h(
        "p",
        {},
        "Choose what stands before you. Your card changes at once, and the office is told.",
      ),
      bundle.rig_facts.map((fact) => drawFact(fact, wagon, choose)),
      h("label", { for: "rig-text" }, "What you saw (you may leave this empty)"),
      field,
      preview,
      fault,
      h(
        "div",
        { class: "pair" },
        h(
          "button",
          { type: "button", id: "rig-save", class: "big", onclick: () => save(close) },
          "Save",
        ),
        h("button", { type: "button", class: "plainly", onclick: close }, "Cancel"),
      ),
    ],
  });
}

/** @param {RigFact} fact @param {Wagon} wagon @param {(fact: string, value: string) => void} choose */
function drawFact({ fact, words, values }, { rig, entry }, choose) {
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
          one.value === entered && rig[fact] !== entered ? h("small", {}, " (entered)") : null,
        ),
      ),
    ),
  );
}

/**
 * List the marks that wait for a row the rig does not have, and those on rows of an earlier card.
 *
 * @param {Round} round
 * @param {Wagon} wagon
 * @returns {HTMLElement[]}
 */
export function drawAside(round, wagon) {
  const rows = round.bundle?.card.sections.flatMap((part) => part.criteria) ?? [];
  const { aside, earlier } = wagon.card;
  const off = rows.filter((row) => aside[row.code]);
  const blocks = [
    drawKept(
      "aside",
      "Kept aside: not on this rig",
      "These marks are kept and do not count. They are back as soon as the rig has the row again.",
      off.map((row) => [row, aside[row.code]]),
    ),
    drawKept(
      "earlier",
      "Kept aside: rows of an earlier card",
      "The office changed the card after you marked these. They are kept and do not count.",
      earlier.map((one) => [one, one]),
    ),
  ];
  return blocks.filter((block) => block !== null);
}

/**
 * @param {string} id
 * @param {string} title
 * @param {string} words
 * @param {[{code: string, name: string, form: Form}, Mark][]} kept
 */
function drawKept(id, title, words, kept) {
  if (!kept.length) return null;
  const lines = kept.map(([row, mark]) =>
    h(
      "li",
      { "data-aside": row.code },
      h("span", {}, row.name),
      h("strong", {}, markWords(mark, row)),
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

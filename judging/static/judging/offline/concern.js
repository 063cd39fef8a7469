/** Raises a safety concern: apart from the score, and never in the way of a voice. */

import { h, say } from "./draw.js";
import { newId } from "./outbox.js";
import { DEGREES, SAFETY, wagonWords } from "./words.js";

/** @import {Round} from "./round.js" */
/** @import {StoredEvent, Wagon} from "./types.js" */

const LONGEST = 300;

/**
 * Open the dialog for a wagon, or for one row of it.
 *
 * @param {Round} round
 * @param {Wagon} wagon
 * @param {string | null} criterion
 * @param {() => void} paint
 */
export function raiseConcern(round, wagon, criterion, paint) {
  const id = newId();
  const rows = wagon.sections.flatMap((part) => part.rows);
  const where = /** @type {HTMLSelectElement} */ (
    h(
      "select",
      { id: "concern-where" },
      h("option", { value: "" }, "The wagon as a whole"),
      rows.map((row) => h("option", { value: row.code }, row.name)),
    )
  );
  where.value = criterion ?? "";
  const text = /** @type {HTMLTextAreaElement} */ (
    h("textarea", { id: "concern-text", rows: 3, maxlength: LONGEST })
  );
  const fault = h("p", { class: "fault", role: "alert" });
  const close = () => {
    dialog.close();
    dialog.remove();
  };
  const raise = async () => {
    const chosen = /** @type {HTMLInputElement | null} */ (
      dialog.querySelector("input[name=degree]:checked")
    );
    if (!chosen) {
      fault.textContent = "Choose how grave it is.";
      return;
    }
    const degree = /** @type {"stop" | "mend" | "note"} */ (chosen.value);
    const line = text.value.replace(/\s+/g, " ").trim();
    const entry = wagon.entry.id;
    const saved = await round.touch(
      { kind: "concern", entry, criterion: where.value || null, degree, text: line },
      id,
    );
    if (!saved) {
      fault.textContent = "Not saved. Tell the steward by voice, then try again.";
      return;
    }
    round.sync.nudge(0);
    close();
    say("Safety concern saved. Tell the steward.");
    paint();
  };
  const dialog = /** @type {HTMLDialogElement} */ (
    h(
      "dialog",
      { class: "sheet", "aria-labelledby": "concern-title", oncancel: close },
      h("h2", { id: "concern-title" }, `Safety concern: ${wagonWords(wagon.entry)}`),
      h("p", { class: "safety" }, SAFETY),
      h("fieldset", {}, h("legend", {}, "How grave is it?"), DEGREES.map(drawDegree)),
      h("label", { for: "concern-where" }, "Where"),
      where,
      h("label", { for: "concern-text" }, "What you saw"),
      text,
      fault,
      h(
        "div",
        { class: "pair" },
        h("button", { type: "button", class: "big stop", onclick: raise }, "Raise concern"),
        h("button", { type: "button", class: "plainly", onclick: close }, "Cancel"),
      ),
    )
  );
  document.body.append(dialog);
  dialog.showModal();
}

/** @param {[string, string, string]} degree */
function drawDegree([value, words, more]) {
  return h(
    "label",
    { class: "degree" },
    h("input", { type: "radio", name: "degree", value }),
    h("span", {}, h("strong", {}, words), " ", more),
  );
}

/**
 * List the concerns raised from this phone, and whether the office has them.
 *
 * @param {Round} round
 * @param {Wagon} wagon
 * @returns {HTMLElement | null}
 */
export function drawConcerns(round, wagon) {
  const raised = round.events.filter((event) => wagon.concerns.includes(event.id));
  if (!raised.length) return null;
  return h(
    "section",
    { class: "concerns" },
    h("h2", {}, "Safety concerns you raised"),
    h(
      "ul",
      {},
      raised.map((event) => drawConcern(wagon, event)),
    ),
  );
}

/** @param {Wagon} wagon @param {StoredEvent} event */
function drawConcern(wagon, { status, body, reason }) {
  const words = DEGREES.find(([degree]) => degree === body.degree)?.[1] ?? "Note";
  const row = wagon.sections
    .flatMap((part) => part.rows)
    .find((one) => one.code === body.criterion);
  const there =
    status === "unsent" || status === "stuck"
      ? "Not at the office yet: tell the steward by voice."
      : status === "held"
        ? `Kept by the office: ${reason}`
        : "At the office. Tell the steward as well.";
  return h(
    "li",
    { class: `concern ${body.degree}` },
    h("strong", {}, words),
    row ? `, ${row.name}` : "",
    body.text ? `: ${body.text}` : "",
    h("br"),
    there,
  );
}

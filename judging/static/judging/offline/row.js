/** One row of the card: its name, its mark, and when open the pad to mark it. */

import { h } from "./draw.js";
import { drawKeys } from "./keys.js";
import { DANGER, STATES, markWords, valueWords } from "./words.js";

/** @import {Criterion, Mark, Part} from "./types.js" */

/**
 * @typedef {object} RowView
 * @property {Criterion} row
 * @property {Mark | undefined} mark
 * @property {string[]} places there are to give, where the row is judged by place
 * @property {[string, Part][]} parts of the handbook, by code
 * @property {string[]} effects what zero and the two states do here
 * @property {Mark | null} unsaved a mark that could not be kept
 * @property {boolean} open
 * @property {boolean} locked the card is handed in
 * @property {boolean} resting taps are not taken for a moment after a row has closed
 * @property {() => void} toggle
 * @property {(mark: Mark) => void} give
 * @property {() => void} clear
 * @property {() => void} worry
 * @property {(part: string) => void} look opens a part in the handbook
 */

/** @param {RowView} view @returns {HTMLElement} */
export function drawRow(view) {
  const { row, open } = view;
  return h(
    "li",
    { class: open ? "crit open" : "crit", "data-row": row.code },
    drawLine(view),
    view.unsaved ? drawUnsaved(view.unsaved, row) : null,
    open ? drawPad(view) : null,
  );
}

/** @param {RowView} view */
function drawLine({ row, mark, open, toggle }) {
  return h(
    "button",
    {
      type: "button",
      class: "line",
      id: `row-${row.code}`,
      "aria-expanded": open,
      onclick: toggle,
    },
    h("span", { class: "what" }, row.name, " ", drawGrade(row.danger)),
    drawMark(row, mark),
  );
}

/** @param {Criterion} row @param {Mark | undefined} mark */
function drawMark(row, mark) {
  if (!mark)
    return h("span", { class: "given none" }, h("span", { class: "unseen" }, "no mark"), "–");
  const marked = mark.state === "marked";
  const shown = marked ? valueWords(String(mark.value), row) : STATES[mark.state];
  const of =
    marked && row.form === "points" ? h("span", { class: "of" }, ` of ${row.max_mark}`) : null;
  return h(
    "span",
    { class: `given ${mark.state} ${row.form}`, "data-mark": mark.value ?? mark.state },
    h("span", { class: "tick", "aria-hidden": "true" }, "✓"),
    h("span", { class: "unseen" }, "saved: "),
    h("strong", {}, shown),
    of,
  );
}

/** @param {string} danger */
function drawGrade(danger) {
  if (danger !== "A" && danger !== "B") return null;
  return h(
    "span",
    { class: `grade grade-${danger.toLowerCase()}` },
    h("span", { class: "unseen" }, "danger "),
    danger,
  );
}

/** @param {Mark} unsaved @param {Criterion} row */
const drawUnsaved = (unsaved, row) =>
  h("p", { class: "unsaved loud" }, `Not saved: ${markWords(unsaved, row)}`);

/** @param {RowView} view */
function drawPad(view) {
  const { row, mark, places, locked, resting, give } = view;
  const off = locked || resting;
  const on = mark?.state === "marked" ? mark.value : null;
  const choose = (/** @type {string} */ value) => give({ state: "marked", value });
  return h(
    "div",
    { class: resting ? "pad resting" : "pad" },
    locked ? null : drawKeys({ row, places, on, off, choose }),
    locked ? null : drawStates(view, off),
    drawParts(view),
    h(
      "details",
      { class: "guide", id: `guide-${row.code}` },
      h("summary", {}, "What to look for"),
      h("p", {}, row.guidance || "No guidance for this row."),
      h("p", { class: "danger" }, DANGER[row.danger] ?? DANGER.C),
      view.effects.length
        ? h(
            "ul",
            { class: "effects", "aria-label": "What the keys do" },
            view.effects.map((line) => h("li", {}, line)),
          )
        : null,
    ),
    h(
      "div",
      { class: "side" },
      h("button", { type: "button", class: "worry", onclick: view.worry }, "Safety concern"),
      !locked && mark
        ? h(
            "button",
            { type: "button", class: "plainly", disabled: off, onclick: view.clear },
            "Take mark back",
          )
        : null,
    ),
  );
}

/** @param {RowView} view */
function drawParts({ row, parts, look }) {
  if (!parts.length) return null;
  return h(
    "div",
    { class: "parts", role: "group", "aria-label": `Handbook for ${row.name}` },
    h("span", { "aria-hidden": "true" }, "Handbook:"),
    parts.map(([code, { name }]) =>
      h(
        "button",
        { type: "button", class: "look", "data-part": code, onclick: () => look(code) },
        name,
      ),
    ),
  );
}

/** A place always applies: every wagon gets one. @param {Criterion} row */
const statesOf = (row) =>
  Object.entries(STATES).filter(
    ([state]) => row.form !== "placings" || state !== "not_applicable",
  );

/** @param {RowView} view @param {boolean} off */
function drawStates({ row, mark, give }, off) {
  return h(
    "div",
    { class: "states", role: "group", "aria-label": "Instead of a mark" },
    statesOf(row).map(([state, words]) =>
      h(
        "button",
        {
          type: "button",
          class: "statekey",
          disabled: off,
          "aria-pressed": mark?.state === state,
          "data-state": state,
          onclick: () => give({ state: /** @type {Mark["state"]} */ (state), value: null }),
        },
        words,
      ),
    ),
  );
}

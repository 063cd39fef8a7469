/** One row of the card: its name, its mark, and when open the pad to mark it. */

import { h } from "./draw.js";
import { marksOf } from "./number.js";
import { DANGER, STATES, markWords } from "./words.js";

/** @import {Criterion, Mark} from "./types.js" */

/**
 * @typedef {object} RowView
 * @property {Criterion} row
 * @property {Mark | undefined} mark
 * @property {Mark | null} unsaved a mark that could not be kept
 * @property {boolean} open
 * @property {boolean} locked the card is handed in
 * @property {boolean} resting taps are not taken for a moment after a row has closed
 * @property {() => void} toggle
 * @property {(mark: Mark) => void} give
 * @property {() => void} clear
 * @property {() => void} worry
 */

/** @param {RowView} view @returns {HTMLElement} */
export function drawRow(view) {
  const { row, open } = view;
  return h(
    "li",
    { class: open ? "crit open" : "crit", "data-row": row.code },
    drawLine(view),
    view.unsaved ? drawUnsaved(view.unsaved) : null,
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
  const shown = mark.state === "marked" ? String(mark.value) : STATES[mark.state];
  const of = mark.state === "marked" ? h("span", { class: "of" }, ` of ${row.max_mark}`) : null;
  return h(
    "span",
    { class: `given ${mark.state}`, "data-mark": mark.value ?? mark.state },
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

/** @param {Mark} unsaved */
const drawUnsaved = (unsaved) =>
  h("p", { class: "unsaved loud" }, `Not saved: ${markWords(unsaved)}`);

/** @param {RowView} view */
function drawPad(view) {
  const { row, mark, locked, resting, give } = view;
  const off = locked || resting;
  const keys = marksOf(row).map((value) => {
    const on = mark?.state === "marked" && mark.value === value;
    return h(
      "button",
      {
        type: "button",
        class: "key",
        disabled: off,
        "aria-pressed": on,
        "data-key": value,
        onclick: () => give({ state: "marked", value }),
      },
      value,
    );
  });
  return h(
    "div",
    { class: resting ? "pad resting" : "pad" },
    locked
      ? null
      : h("div", { class: "keys", role: "group", "aria-label": `Mark for ${row.name}` }, keys),
    locked ? null : drawStates(view, off),
    h(
      "details",
      { class: "guide", id: `guide-${row.code}` },
      h("summary", {}, "What to look for"),
      h("p", {}, row.guidance || "No guidance for this row."),
      h("p", { class: "danger" }, DANGER[row.danger] ?? DANGER.C),
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

/** @param {RowView} view @param {boolean} off */
function drawStates({ mark, give }, off) {
  return h(
    "div",
    { class: "states", role: "group", "aria-label": "Instead of a mark" },
    Object.entries(STATES).map(([state, words]) =>
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

/** One row of the card: its name, its mark, and when open the pad to mark it. */

import { h } from "./draw.ts";
import type { Kid } from "./draw.ts";
import { drawKeys } from "./keys.ts";
import { gettext, own, ownLanguage } from "./language.ts";
import { dangerWords, markWords, states, stateWords, valueWords } from "./words.ts";
import type { Criterion, Mark, Part } from "./types.ts";

export interface RowView {
  row: Criterion;
  mark: Mark | undefined;
  /** There are to give, where the row is judged by place. */
  places: string[];
  /** Of the handbook, by code. */
  parts: [string, Part][];
  /** What zero and the two states do here. */
  effects: string[];
  /** The camera, and the photos of the row. */
  camera: Kid;
  photos: Kid;
  /** The judge's own marks on it so far. */
  spread: Kid;
  /** A mark that could not be kept. */
  unsaved: Mark | null;
  open: boolean;
  /** The card is handed in. */
  locked: boolean;
  /** Taps are not taken for a moment after a row has closed. */
  resting: boolean;
  toggle: () => void;
  give: (mark: Mark) => void;
  clear: () => void;
  worry: () => void;
  /** Opens a part in the handbook. */
  look: (part: string) => void;
}

export function drawRow(view: RowView): HTMLElement {
  const { row, open } = view;
  return h(
    "li",
    { class: open ? "crit open" : "crit", "data-row": row.code },
    drawLine(view),
    view.unsaved ? drawUnsaved(view.unsaved, row) : null,
    view.photos,
    open ? drawPad(view) : null,
  );
}

function drawLine({ row, mark, open, toggle }: RowView) {
  return h(
    "button",
    {
      type: "button",
      class: "line",
      id: `row-${row.code}`,
      "aria-expanded": open,
      onclick: toggle,
    },
    h("span", { class: "what" }, own(row.name), " ", drawGrade(row.danger)),
    drawMark(row, mark),
  );
}

function drawMark(row: Criterion, mark: Mark | undefined) {
  if (!mark)
    return h("span", { class: "given none" }, h("span", { class: "unseen" }, gettext("no mark")), "–");
  const marked = mark.state === "marked";
  const shown = mark.state === "marked" ? valueWords(String(mark.value), row) : stateWords(mark.state);
  const most = gettext("of {most}", { most: row.max_mark });
  const of = marked && row.form === "points" ? h("span", { class: "of" }, ` ${most}`) : null;
  return h(
    "span",
    { class: `given ${mark.state} ${row.form}`, "data-mark": mark.value ?? mark.state },
    h("span", { class: "tick", "aria-hidden": "true" }, "✓"),
    h("span", { class: "unseen" }, gettext("saved:"), " "),
    h("strong", {}, shown),
    of,
  );
}

function drawGrade(danger: string) {
  if (danger !== "A" && danger !== "B") return null;
  return h(
    "span",
    { class: `grade grade-${danger.toLowerCase()}` },
    h("span", { class: "unseen" }, gettext("danger"), " "),
    danger,
  );
}

const drawUnsaved = (unsaved: Mark, row: Criterion) =>
  h("p", { class: "unsaved loud" }, gettext("Not saved: {mark}", { mark: markWords(unsaved, row) }));

function drawPad(view: RowView) {
  const { row, mark, places, locked, resting, give } = view;
  const off = locked || resting;
  const on = mark?.state === "marked" ? mark.value : null;
  const choose = (value: string) => give({ state: "marked", value });
  return h(
    "div",
    { class: resting ? "pad resting" : "pad" },
    locked ? null : drawKeys({ row, places, on, off, choose }),
    locked ? null : drawStates(view, off),
    view.spread,
    drawParts(view),
    h(
      "details",
      { class: "guide", id: `guide-${row.code}` },
      h("summary", {}, gettext("What to look for")),
      h("p", {}, row.guidance ? own(row.guidance) : gettext("No guidance for this row.")),
      h("p", { class: "danger" }, dangerWords(row.danger)),
      view.effects.length
        ? h(
            "ul",
            { class: "effects", "aria-label": gettext("What the keys do") },
            view.effects.map((line) => h("li", {}, line)),
          )
        : null,
    ),
    h(
      "div",
      { class: "side" },
      h("button", { type: "button", class: "worry", onclick: view.worry }, gettext("Safety concern")),
      view.camera,
      !locked && mark
        ? h(
            "button",
            { type: "button", class: "plainly", disabled: off, onclick: view.clear },
            gettext("Take mark back"),
          )
        : null,
    ),
  );
}

function drawParts({ row, parts, look }: RowView) {
  if (!parts.length) return null;
  return h(
    "div",
    { class: "parts", role: "group", "aria-label": gettext("Handbook for {row}", { row: row.name }) },
    h("span", { "aria-hidden": "true" }, gettext("Handbook:")),
    parts.map(([code, { name }]) =>
      h(
        "button",
        {
          type: "button",
          class: "look",
          lang: ownLanguage(),
          "data-part": code,
          onclick: () => look(code),
        },
        name,
      ),
    ),
  );
}

/** A place always applies: every wagon gets one. */
const statesOf = (row: Criterion) =>
  states().filter(([state]) => row.form !== "placings" || state !== "not_applicable");

function drawStates({ row, mark, give }: RowView, off: boolean) {
  return h(
    "div",
    { class: "states", role: "group", "aria-label": gettext("Instead of a mark") },
    statesOf(row).map(([state, words]) =>
      h(
        "button",
        {
          type: "button",
          class: "statekey",
          disabled: off,
          "aria-pressed": mark?.state === state,
          "data-state": state,
          onclick: () => give({ state, value: null }),
        },
        words,
      ),
    ),
  );
}

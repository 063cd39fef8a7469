/** The keys of a row: numbers, places, or pass and fail. */

import { h } from "./draw.js";
import { marksOf } from "./number.js";
import { RESULTS } from "./words.js";

/** @import {Criterion} from "./types.js" */

/**
 * Draw the keys that mark a row.
 *
 * @param {object} view
 * @param {Criterion} view.row
 * @param {string[]} view.places the places there are, for a row judged by place
 * @param {string | null} [view.on] the value given
 * @param {boolean} [view.off] taps are not taken
 * @param {(value: string) => void} view.choose
 * @returns {HTMLElement}
 */
export function drawKeys({ row, places, on = null, off = false, choose }) {
  const keys = keysOf(row, places);
  const kind = row.form === "pass_fail" ? "keys two" : "keys";
  const about = row.form === "placings" ? `Place for ${row.name}` : `Mark for ${row.name}`;
  return h(
    "div",
    { class: kind, role: "group", "aria-label": about },
    keys.map(([value, words]) =>
      h(
        "button",
        {
          type: "button",
          class: "key",
          disabled: off,
          "aria-pressed": value === on,
          "data-key": value,
          onclick: () => choose(value),
        },
        words,
      ),
    ),
  );
}

/** @param {Criterion} row @param {string[]} places @returns {[string, string][]} value and words */
function keysOf(row, places) {
  if (row.form === "pass_fail") return ["1", "0"].map((value) => [value, RESULTS[value]]);
  const most = Number(row.max_mark);
  const values =
    row.form === "placings" ? places.filter((place) => Number(place) <= most) : marksOf(row);
  return values.map((value) => [value, value]);
}

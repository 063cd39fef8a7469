/** The keys of a row: numbers, places, or pass and fail. */

import { h } from "./draw.ts";
import { gettext } from "./language.ts";
import { marksOf } from "./number.ts";
import { valueWords } from "./words.ts";
import type { Criterion } from "./types.ts";

/** Draw the keys that mark a row. */
export function drawKeys({
  row,
  places,
  on = null,
  off = false,
  choose,
}: {
  row: Criterion;
  places: string[]; // the places there are, for a row judged by place
  on?: string | null; // the value given
  off?: boolean; // taps are not taken
  choose: (value: string) => void;
}): HTMLElement {
  const keys = keysOf(row, places);
  const kind = row.form === "pass_fail" ? "keys two" : "keys";
  const about = 
    row.form === "placings"
      ? gettext("Place for {row}", { row: row.name })
      : gettext("Mark for {row}", { row: row.name });
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

/** Value and words. */
function keysOf(row: Criterion, places: string[]): [string, string][] {
  if (row.form === "pass_fail") return ["1", "0"].map((value) => [value, valueWords(value, row)]);
  const most = Number(row.max_mark);
  const values =
    row.form === "placings" ? places.filter((place) => Number(place) <= most) : marksOf(row);
  return values.map((value) => [value, value]);
}

/** How a judge's own marks are spread so far: each judge sees only their own. */

import { gettext, number } from "./language.ts";
import { hundredths } from "./number.ts";
import type { Section, Wagon } from "./types.ts";

/** Own marks in ascending order. */
export interface Spread {
  marks: number[];
  lowest: number;
  /** The median. */
  middle: number;
  highest: number;
}

/** Return the spread of marks, or null of none. */
export function spread(given: string[]): Spread | null {
  // In whole hundredths, so that no mark is a hair beside another.
  const marks = given.map(hundredths).sort((one, other) => one - other);
  const half = Math.floor(marks.length / 2);
  const [below, above] = [marks[marks.length - 1 - half], marks[half]];
  const [lowest, highest] = [marks[0], marks.at(-1)];
  if (lowest === undefined || highest === undefined) return null;
  return {
    marks: marks.map((mark) => mark / 100),
    lowest: lowest / 100,
    middle: ((below ?? 0) + (above ?? 0)) / 200,
    highest: highest / 100,
  };
}

/** Return the marks given so far on some rows; practice is none, nor is a scratched wagon. */
const marksOn = (wagons: Wagon[], codes: Set<string>): string[] =>
  wagons
    .filter(({ practice, scratched }) => !practice && !scratched)
    .flatMap(({ card }) => Object.entries(card.marks))
    .filter(([code, mark]) => codes.has(code) && mark.state === "marked")
    .flatMap(([, { value }]) => value ?? []);

/** Return the spread of a row over the other wagons: the mark in hand is not compared with itself. */
export const spreadOfRow = (wagons: Wagon[], here: number, code: string): Spread | null =>
  spread(
    marksOn(
      wagons.filter(({ entry }) => entry.id !== here),
      new Set([code]),
    ),
  );

export interface SectionSpread {
  name: string;
  /** What its rows go up to. */
  max_mark: string;
  spread: Spread;
}

/** Return the spread of each section that is judged in points; of each maximum by itself. */
export function spreadOfSections(wagons: Wagon[], sections: Section[]): SectionSpread[] {
  return sections
    .filter(({ form }) => form === "points")
    .flatMap(({ name, criteria }) => {
      const most = [...new Set(criteria.map(({ max_mark }) => max_mark))];
      return most.flatMap((max_mark) => {
        const rows = criteria.filter((row) => row.max_mark === max_mark);
        const found = spread(marksOn(wagons, new Set(rows.map(({ code }) => code))));
        return found ? [{ name, max_mark, spread: found }] : [];
      });
    });
}

/** So many marks can be read one by one. */
const READABLE = 12;

/** Say a row's marks so far. */
export function spreadWords({ marks, lowest, middle, highest }: Spread): string {
  const list =
    marks.length > READABLE
      ? gettext("{n}, from {lowest} to {highest}", { n: marks.length, lowest, highest })
      : marks.map(number).join(" ");
  return gettext("Your marks so far: {marks} · middle {middle}", { marks: list, middle });
}

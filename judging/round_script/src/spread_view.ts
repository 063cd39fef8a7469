/** Shows a judge's own marks so far, as dots on the scale and in words. */

import { h } from "./draw.ts";
import { gettext, own, pieces } from "./language.ts";
import { spreadOfRow, spreadOfSections, spreadWords } from "./spread.ts";
import type { Round } from "./round.ts";
import type { Spread } from "./spread.ts";
import type { Criterion, Wagon } from "./types.ts";

const SVG = "http://www.w3.org/2000/svg";
const WIDE = 200;
const HIGH = 24;
const RADIUS = 3;

/** A row's marks on the other wagons, small. */
export function drawSpread(round: Round, wagon: Wagon, row: Criterion): HTMLElement | null {
  if (row.form !== "points" || wagon.practice) return null;
  const found = spreadOfRow(round.wagons, wagon.entry.id, row.code);
  if (!found) return null;
  return h(
    "div",
    { class: "spread", "data-spread": row.code },
    drawDots(found, Number(row.max_mark)),
    h("p", {}, spreadWords(found)),
  );
}

/** The fold with all sections. */
export function drawSpreads(round: Round): HTMLElement | null {
  const found = spreadOfSections(round.wagons, round.bundle?.card.sections ?? []);
  if (!found.length) return null;
  return h(
    "details",
    { id: "spreads", class: "rules" },
    h("summary", {}, gettext("My marks so far")),
    h("p", { class: "hint" }, gettext("This shows how much of the scale you use, not how to mark.")),
    found.map(({ name, max_mark, spread }) =>
      h(
        "div",
        { class: "spread" },
        h(
          "h3",
          {},
          pieces(gettext("{section}, of {most}"), { section: own(name), most: max_mark }),
        ),
        drawDots(spread, Number(max_mark)),
        h(
          "p",
          {},
          gettext("Lowest {lowest} · middle {middle} · highest {highest} · {n} given", {
            lowest: spread.lowest,
            middle: spread.middle,
            highest: spread.highest,
            n: spread.marks.length,
          }),
        ),
      ),
    ),
  );
}

/** One dot a mark; equal marks stand on each other, and the scale is the line beneath. */
function drawDots({ marks }: Spread, most: number): Node {
  const strip = make("svg", {
    class: "dots",
    viewBox: `0 0 ${WIDE} ${HIGH}`,
    "aria-hidden": "true",
    focusable: "false",
  });
  const inner = WIDE - 2 * RADIUS - 2;
  const at = (mark: number) => 1 + RADIUS + (most ? (mark / most) * inner : 0);
  strip.append(
    make("line", { x1: at(0), x2: at(most), y1: HIGH - 2, y2: HIGH - 2 }),
    make("line", { x1: at(0), x2: at(0), y1: HIGH - 7, y2: HIGH - 1 }),
    make("line", { x1: at(most), x2: at(most), y1: HIGH - 7, y2: HIGH - 1 }),
  );
  const stacked: Map<number, number> = new Map();
  for (const mark of marks) stacked.set(mark, (stacked.get(mark) ?? 0) + 1);
  const room = HIGH - 5 - 2 * RADIUS;
  for (const [mark, count] of stacked) {
    const step = Math.min(2 * RADIUS + 0.5, room / Math.max(1, count - 1));
    for (let up = 0; up < Math.min(count, HIGH); up += 1) {
      strip.append(make("circle", { cx: at(mark), cy: HIGH - 4 - RADIUS - up * step, r: RADIUS }));
    }
  }
  return strip;
}

function make(tag: string, props: Record<string, string | number>): SVGElement {
  const made = document.createElementNS(SVG, tag);
  for (const [name, value] of Object.entries(props)) made.setAttribute(name, String(value));
  return made;
}

/** The handbook of parts: one tap from the row, and by itself. It works without a signal. */

import { h } from "./draw.ts";
import { openSheet } from "./sheet.ts";
import { DANGER, SAFETY } from "./words.ts";
import type { Round } from "./round.ts";
import type { Criterion, Handbook, Part } from "./types.ts";

/** Return the parts a row names, by code; those this phone has nothing about are left out. */
export function partsOf(round: Round, row: Criterion): [string, Part][] {
  const known = round.bundle?.handbook.parts ?? {};
  return row.parts.flatMap((code): [string, Part][] => {
    const part = known[code];
    return part ? [[code, part]] : [];
  });
}

export function openPart(round: Round, code: string) {
  const handbook = round.bundle?.handbook;
  const part = handbook?.parts[code];
  if (!handbook || !part) return;
  openSheet({
    id: "part-title",
    title: part.name,
    kind: "calm",
    draw: (close) => [
      h("p", { class: "about" }, part.group),
      h("p", { class: "danger" }, DANGER[part.danger]),
      h("p", { class: "safety" }, SAFETY),
      drawFacts(part),
      drawDrawing(handbook, part),
      h("button", { type: "button", class: "big stays", onclick: close }, "Close"),
    ],
  });
}

const drawFacts = ({ job, look, fails, rigs }: Part) =>
  h(
    "dl",
    { class: "part-facts" },
    [
      ["Its job", job],
      ["Where to look", look],
      ["When it fails", fails],
      ["On which rigs", `${rigs.charAt(0).toUpperCase()}${rigs.slice(1)}.`],
    ].flatMap(([term, words]) => [h("dt", {}, term), h("dd", {}, words)]),
  );

function drawDrawing({ drawings }: Handbook, { name, drawing, mark }: Part) {
  const drawn = drawings[drawing];
  if (!drawn) return null;
  return h(
    "figure",
    { class: "plate" },
    h("img", { src: drawn.url, alt: drawn.alt }),
    h("figcaption", {}, h("strong", {}, `${name}: number ${mark}.`), ` Drawing: ${drawn.title}`),
  );
}

/** List the card's parts by group. */
export function drawHandbook(round: Round): HTMLElement[] {
  const parts = Object.entries(round.bundle?.handbook.parts ?? {});
  const groups = [...new Set(parts.map(([, { group }]) => group))];
  return [
    h("h1", { id: "handbook-title", tabindex: -1 }, "Handbook"),
    h(
      "p",
      {},
      "The parts your card looks at. Tap one for its job, where to look, and what its failure does.",
    ),
    h("p", { class: "safety" }, SAFETY),
    ...groups.map((group, place) =>
      h(
        "section",
        { "aria-labelledby": `group-${place}` },
        h("h2", { id: `group-${place}` }, group),
        h(
          "ul",
          { class: "partlist" },
          parts
            .filter(([, part]) => part.group === group)
            .map(([code, part]) => h("li", {}, drawEntry(round, code, part))),
        ),
      ),
    ),
  ];
}

const drawEntry = (round: Round, code: string, { name, danger }: Part) =>
  h(
    "button",
    { type: "button", class: "plainly", "data-part": code, onclick: () => openPart(round, code) },
    name,
    danger === "C" ? null : h("small", {}, ` danger ${danger}`),
  );

/** The handbook of parts: one tap from the row, and by itself. It works without a signal. */

import { h } from "./draw.js";
import { openSheet } from "./sheet.js";
import { DANGER, SAFETY } from "./words.js";

/** @import {Round} from "./round.js" */
/** @import {Criterion, Handbook, Part} from "./types.js" */

/**
 * Return the parts a row names, by code; those this phone has nothing about are left out.
 *
 * @param {Round} round
 * @param {Criterion} row
 * @returns {[string, Part][]}
 */
export function partsOf(round, row) {
  const known = round.bundle?.handbook.parts ?? {};
  return row.parts.filter((code) => known[code]).map((code) => [code, known[code]]);
}

/** @param {Round} round @param {string} code */
export function openPart(round, code) {
  const handbook = round.bundle?.handbook;
  const part = handbook?.parts[code];
  if (!handbook || !part) return;
  openSheet({
    id: "part-title",
    title: part.name,
    kind: "calm",
    draw: (close) => [
      h("p", { class: "about" }, part.group),
      h("p", { class: "danger" }, DANGER[part.danger] ?? DANGER.C),
      h("p", { class: "safety" }, SAFETY),
      drawFacts(part),
      drawDrawing(handbook, part),
      h("button", { type: "button", class: "big stays", onclick: close }, "Close"),
    ],
  });
}

/** @param {Part} part */
const drawFacts = ({ job, look, fails, rigs }) =>
  h(
    "dl",
    { class: "part-facts" },
    [
      ["Its job", job],
      ["Where to look", look],
      ["When it fails", fails],
      ["On which rigs", `${rigs[0].toUpperCase()}${rigs.slice(1)}.`],
    ].flatMap(([term, words]) => [h("dt", {}, term), h("dd", {}, words)]),
  );

/** @param {Handbook} handbook @param {Part} part */
function drawDrawing({ drawings }, { name, drawing, mark }) {
  const drawn = drawings[drawing];
  if (!drawn) return null;
  return h(
    "figure",
    { class: "plate" },
    h("img", { src: drawn.url, alt: drawn.alt }),
    h(
      "figcaption",
      {},
      h("strong", {}, `${name}: number ${mark}.`),
      ` Drawing: ${drawn.title}`,
    ),
  );
}

/**
 * List the card's parts by group.
 *
 * @param {Round} round
 * @returns {HTMLElement[]}
 */
export function drawHandbook(round) {
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

/** @param {Round} round @param {string} code @param {Part} part */
const drawEntry = (round, code, { name, danger }) =>
  h(
    "button",
    { type: "button", class: "plainly", "data-part": code, onclick: () => openPart(round, code) },
    name,
    danger === "C" ? null : h("small", {}, ` danger ${danger}`),
  );

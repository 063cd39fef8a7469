/** The handbook of parts: one tap from the row, and by itself. It works without a signal. */

import { h } from "./draw.ts";
import { gettext, own, ownLanguage, pieces } from "./language.ts";
import { openSheet } from "./sheet.ts";
import { dangerWords, safetyWords } from "./words.ts";
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
    title: own(part.name),
    kind: "calm",
    draw: (close) => [
      h("p", { class: "about", lang: ownLanguage() }, part.group),
      h("p", { class: "danger" }, dangerWords(part.danger)),
      h("p", { class: "safety" }, safetyWords()),
      drawFacts(part),
      drawDrawing(handbook, part),
      h("button", { type: "button", class: "big stays", onclick: close }, gettext("Close")),
    ],
  });
}

const drawFacts = ({ job, look, fails, rigs }: Part) =>
  h(
    "dl",
    { class: "part-facts" },
    [
      h("dt", {}, gettext("Its job")),
      h("dd", { lang: ownLanguage() }, job),
      h("dt", {}, gettext("Where to look")),
      h("dd", { lang: ownLanguage() }, look),
      h("dt", {}, gettext("When it fails")),
      h("dd", { lang: ownLanguage() }, fails),
      h("dt", {}, gettext("On which rigs")),
      h("dd", {}, `${rigs.charAt(0).toUpperCase()}${rigs.slice(1)}.`),
    ],
  );

function drawDrawing({ drawings }: Handbook, { name, drawing, mark }: Part) {
  const drawn = drawings[drawing];
  if (!drawn) return null;
  return h(
    "figure",
    { class: "plate" },
    h("img", { src: drawn.url, alt: drawn.alt, lang: ownLanguage() }),
    h(
      "figcaption",
      {},
      h(
        "strong",
        {},
        pieces(gettext("{part}: number {number}."), { part: own(name), number: String(mark) }),
      ),
      " ",
      pieces(gettext("Drawing: {title}"), { title: own(drawn.title) }),
    ),
  );
}

/** List the card's parts by group. */
export function drawHandbook(round: Round): HTMLElement[] {
  const parts = Object.entries(round.bundle?.handbook.parts ?? {});
  const groups = [...new Set(parts.map(([, { group }]) => group))];
  return [
    h("h1", { id: "handbook-title", tabindex: -1 }, gettext("Handbook")),
    h(
      "p",
      {},
      gettext(
        "The parts your card looks at. Tap one for its job, where to look, and what its failure does.",
      ),
    ),
    h("p", { class: "safety" }, safetyWords()),
    ...groups.map((group, place) =>
      h(
        "section",
        { "aria-labelledby": `group-${place}` },
        h("h2", { id: `group-${place}`, lang: ownLanguage() }, group),
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
    own(name),
    danger === "C" ? null : h("small", {}, ` ${gettext("danger {grade}", { grade: danger })}`),
  );

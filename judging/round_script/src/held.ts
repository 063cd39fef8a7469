/** Touches that need somebody: kept by the office for a decision, or not read by the server. */

import { rowsApart } from "./card.ts";
import { h } from "./draw.ts";
import { gettext, ngettext, ownLanguage, pgettext } from "./language.ts";
import { reasonWords } from "./reasons.ts";
import { markWords, touchWords, wagonPieces } from "./words.ts";
import type { Round } from "./round.ts";
import type { StoredEvent, Wagon } from "./types.ts";

/** List what of one wagon arrived but did not take effect. */
export function drawHeldOf(round: Round, wagon: Wagon): HTMLElement | null {
  const held = round.held.filter(({ body }) => body.entry === wagon.entry.id);
  if (!held.length) return null;
  return h(
    "details",
    { class: "note", id: "held-here" },
    h(
      "summary",
      {},
      ngettext(
        "{n} touch with the office for a decision",
        "{n} touches with the office for a decision",
        held.length,
      ),
    ),
    h(
      "ul",
      {},
      held.map((event) => drawEvent(round, event)),
    ),
  );
}

/** Tell of a card that was signed and is open all the same, with the rows that differ. */
export function drawSignAgain(round: Round, wagon: Wagon): HTMLElement | null {
  const signed = round.signedBefore(wagon);
  if (!signed) return null;
  const rows = round.bundle?.card.sections.flatMap((part) => part.criteria) ?? [];
  const apart = rowsApart(signed.marks, wagon.card.marks);
  return h(
    "section",
    { class: "note", id: "sign-again" },
    h("h2", {}, pgettext("a card", "Not handed in")),
    h(
      "p",
      {},
      signed.differs
        ? gettext(
            "Another phone or the office has other marks on this card. Look through it and sign again.",
          )
        : gettext("This card is open again. Look through it and sign again."),
    ),
    h(
      "ul",
      {},
      apart.map((code) => {
        const row = rows.find((one) => one.code === code);
        const [before, now] = [signed.marks[code], wagon.card.marks[code]];
        const words = gettext("you signed {before}, now {now}", {
          before: markWords(before, row),
          now: markWords(now, row),
        });
        const name = h("strong", { lang: ownLanguage() }, row?.name ?? code);
        return h("li", { "data-apart": code }, name, `: ${words}`);
      }),
    ),
  );
}

function drawEvent(round: Round, { body, code, reason }: StoredEvent) {
  const rows = round.bundle?.card.sections.flatMap((part) => part.criteria) ?? [];
  const wagon = body.entry ? round.wagon(body.entry) : undefined;
  return h(
    "li",
    {},
    wagon ? [...wagonPieces(wagon.entry), ". "] : "",
    touchWords(body, rows, round.bundle?.rig_facts ?? []),
    h("br"),
    h("span", { class: "why" }, reasonWords(code, reason)),
  );
}

/** List what arrived but did not take effect. */
export function drawHeld(round: Round): HTMLElement | null {
  if (!round.held.length) return null;
  return h(
    "section",
    { id: "held" },
    h("h2", {}, gettext("With the office for a decision")),
    h(
      "p",
      {},
      gettext(
        "These arrived but did not take effect. The office has them with the reason; nothing is lost.",
      ),
    ),
    h(
      "ul",
      {},
      round.held.map((event) => drawEvent(round, event)),
    ),
  );
}

/** List what the server could not read. */
export function drawStuck(round: Round): HTMLElement | null {
  const stuck = round.waiting.filter(({ status }) => status === "stuck");
  if (!stuck.length) return null;
  return h(
    "section",
    { id: "stuck" },
    h("h2", {}, gettext("The server could not read these")),
    h("p", {}, gettext("They stay on this phone. Show them to the office.")),
    h(
      "ul",
      {},
      stuck.map((event) => drawEvent(round, event)),
    ),
    h("button", { type: "button", class: "plainly", onclick: () => round.sync.nudge(0) }, gettext("Send them again")),
  );
}

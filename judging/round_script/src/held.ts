/** Touches that need somebody: kept by the office for a decision, or not read by the server. */

import { rowsApart } from "./card.ts";
import { h } from "./draw.ts";
import * as outbox from "./outbox.ts";
import { markWords, some, touchWords, wagonWords } from "./words.ts";
import type { Round } from "./round.ts";
import type { StoredEvent, Wagon } from "./types.ts";

/** Why the office decides, in words for a judge; for the other reasons the server's own stand. */
const WHY: Record<string, string> = {
  "after-window":
    "Made later than the judging window allows. The office decides whether it counts.",
  "after-signature":
    "It came after the result was signed. The office decides whether anything is changed.",
  "device-shut-out": "The office had shut this phone out. It decides whether this counts.",
};

/** List what of one wagon arrived but did not take effect. */
export function drawHeldOf(round: Round, wagon: Wagon): HTMLElement | null {
  const held = round.held.filter(({ body }) => body.entry === wagon.entry.id);
  if (!held.length) return null;
  return h(
    "details",
    { class: "note", id: "held-here" },
    h("summary", {}, `${some(held.length, "touch", "touches")} with the office for a decision`),
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
    h("h2", {}, "Not handed in"),
    h(
      "p",
      {},
      signed.differs
        ? "Another phone or the office has other marks on this card."
        : "This card is open again.",
      " Look through it and sign again.",
    ),
    h(
      "ul",
      {},
      apart.map((code) => {
        const row = rows.find((one) => one.code === code);
        const [before, now] = [signed.marks[code], wagon.card.marks[code]];
        const words = `you signed ${markWords(before, row)}, now ${markWords(now, row)}`;
        return h("li", { "data-apart": code }, h("strong", {}, row?.name ?? code), `: ${words}`);
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
    wagon ? `${wagonWords(wagon.entry)}. ` : "",
    touchWords(body, rows, round.bundle?.rig_facts ?? []),
    h("br"),
    h("span", { class: "why" }, WHY[code] ?? reason),
  );
}

/** List what arrived but did not take effect. */
export function drawHeld(round: Round): HTMLElement | null {
  if (!round.held.length) return null;
  return h(
    "section",
    { id: "held" },
    h("h2", {}, "With the office for a decision"),
    h(
      "p",
      {},
      "These arrived but did not take effect. The office has them with the reason; nothing is lost.",
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
  const again = () =>
    outbox
      .lineUp(
        stuck.map(({ id }) => id),
        "unsent",
      )
      .then(() => round.sync.nudge(0));
  return h(
    "section",
    { id: "stuck" },
    h("h2", {}, "The server could not read these"),
    h("p", {}, "They stay on this phone. Show them to the office."),
    h(
      "ul",
      {},
      stuck.map((event) => drawEvent(round, event)),
    ),
    h("button", { type: "button", class: "plainly", onclick: again }, "Send them again"),
  );
}

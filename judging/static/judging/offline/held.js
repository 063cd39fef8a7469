/** Touches that need somebody: kept by the office for a decision, or not read by the server. */

import { h } from "./draw.js";
import * as outbox from "./outbox.js";
import { some, touchWords, wagonWords } from "./words.js";

/** @import {Round} from "./round.js" */
/** @import {StoredEvent, Wagon} from "./types.js" */

/**
 * List what of one wagon arrived but did not take effect.
 *
 * @param {Round} round
 * @param {Wagon} wagon
 * @returns {HTMLElement | null}
 */
export function drawHeldOf(round, wagon) {
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

/** @param {Round} round @param {StoredEvent} event */
function drawEvent(round, { body, reason }) {
  const rows = round.bundle?.card.sections.flatMap((part) => part.criteria) ?? [];
  const wagon = body.entry ? round.wagon(body.entry) : undefined;
  return h(
    "li",
    {},
    wagon ? `${wagonWords(wagon.entry)}. ` : "",
    touchWords(body, rows, round.bundle?.rig_facts ?? []),
    h("br"),
    h("span", { class: "why" }, reason),
  );
}

/** List what arrived but did not take effect. @param {Round} round @returns {HTMLElement | null} */
export function drawHeld(round) {
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

/** List what the server could not read. @param {Round} round @returns {HTMLElement | null} */
export function drawStuck(round) {
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

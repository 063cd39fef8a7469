/** The pace line: the announced times against what this phone has seen, also without a signal. */

import { h } from "./draw.js";
import { pace } from "./pace.js";

/** @import {Round} from "./round.js" */
/** @import {Stop} from "./pace.js" */
/** @import {Wagon} from "./types.js" */

const TICK_MS = 5_000;

/** Return the moment on the server's clock, as far as this phone knows it. @param {Round} round */
export const now = (round) => Date.now() + round.clock_ms;

/**
 * Return the announced visits as they came about on this phone.
 *
 * @param {Round} round
 * @returns {Stop[]}
 */
export function stopsOf(round) {
  const opens = Date.parse(round.bundle?.show.judging_starts_at ?? "") || 0;
  const stops = round.wagons.flatMap((wagon) => stopOf(round, wagon, opens));
  const begun = stops.filter((stop) => stop.began_s !== null);
  begun.sort((one, other) => Number(one.began_s) - Number(other.began_s));
  // Who begins at the next wagon has left this one, handed in or not.
  begun.forEach((stop, place) => {
    if (place + 1 < begun.length) stop.ended_s ??= begun[place + 1].began_s;
  });
  return stops;
}

/** @param {Round} round @param {Wagon} wagon @param {number} opens @returns {Stop[]} */
function stopOf(round, wagon, opens) {
  const first = wagon.visits.find((visit) => visit.starts_at && visit.ends_at);
  if (wagon.practice || !first) return [];
  const starts_s = Date.parse(first.starts_at ?? "") / 1000;
  const ends_s = Date.parse(first.ends_at ?? "") / 1000;
  const began = beganAt(round, wagon, opens);
  const ended = wagon.card.handed_in ? (handedInAt(round, wagon) ?? began ?? opens) : null;
  const seconds = (/** @type {number | null} */ moment) => moment && moment / 1000;
  return [
    {
      key: wagon.entry.id,
      starts_s,
      ends_s,
      began_s: seconds(began),
      ended_s: ended === null ? null : ended / 1000,
    },
  ];
}

/** @param {Round} round @param {Wagon} wagon @param {number} opens */
function beganAt(round, wagon, opens) {
  const entry = wagon.entry.id;
  const own = round.events.filter(({ body }) => body.entry === entry && body.kind !== "open");
  const touched = own.length > 0 || Object.keys(wagon.card.marks).length > 0;
  const opened = round.opened.get(entry);
  const onlySeen = !touched && round.lastOpened !== entry;
  if (opened !== undefined && !onlySeen) {
    const began = opened + round.clock_ms;
    if (touched || began >= opens) return Math.max(began, opens);
  }
  return own.length ? Math.max(Date.parse(own[0].body.at) + round.clock_ms, opens) : null;
}

/** @param {Round} round @param {Wagon} wagon */
function handedInAt(round, wagon) {
  const own = round.events.filter(({ body }) => body.entry === wagon.entry.id);
  const last = own.filter(({ body }) => body.kind === "hand_in").at(-1);
  return last ? Date.parse(last.body.at) + round.clock_ms : null;
}

/** @param {Round} round */
const words = (round) => pace(stopsOf(round), now(round) / 1000).words;

/** The line; it keeps its height, and nobody is told of every minute. @param {Round} round */
export function drawClock(round) {
  if (!stopsOf(round).length) return null;
  // Also with nothing to say yet: rows below must not move when it begins to speak.
  return h("p", { class: "clock", "data-clock": "", "aria-live": "off" }, words(round));
}

/** Keep the line right between two drawings of the page. @param {Round} round */
export function tick(round) {
  setInterval(() => {
    const line = document.querySelector("[data-clock]");
    const said = line ? words(round) : "";
    if (line && said && line.textContent !== said) line.textContent = said;
  }, TICK_MS);
}

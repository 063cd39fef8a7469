/** What can be said about a card from its values alone. */

import { applies } from "./condition.js";
import { plain } from "./number.js";

/** @import {Bundle, CardState, Criterion, Mark, Scorecard, Section, StoredEvent, Visit, Wagon} from "./types.js" */

/**
 * Return the rows of the named sections that are judged on this rig, section by section.
 *
 * @param {Scorecard} card
 * @param {string[]} codes sections
 * @param {Record<string, string>} rig
 * @returns {{section: Section, rows: Criterion[]}[]}
 */
export function rowsFor(card, codes, rig) {
  return card.sections
    .filter((section) => codes.includes(section.code))
    .map((section) => ({
      section,
      rows: section.criteria.filter((row) => applies(row.applies, rig)),
    }));
}

/**
 * Return the rows that still lack a mark, in the card's order.
 *
 * @param {Wagon} wagon
 * @returns {Criterion[]}
 */
export function missingRows(wagon) {
  return wagon.sections.flatMap(({ rows }) => rows).filter((row) => !wagon.card.marks[row.code]);
}

/**
 * Return the lines the card hash is made of.
 *
 * @param {Record<string, Mark>} marks by criterion
 * @returns {string[]}
 */
export function cardLines(marks) {
  return Object.entries(marks)
    .map(([code, mark]) => {
      const value = mark.state === "marked" && mark.value !== null ? plain(mark.value) : "";
      return `${code}=${mark.state}:${value}`;
    })
    .sort();
}

/**
 * Return the card's SHA-256, or "" where the browser has no hashing (a page without https).
 *
 * @param {Record<string, Mark>} marks
 * @returns {Promise<string>}
 */
export async function cardHash(marks) {
  if (!globalThis.crypto?.subtle) return "";
  const bytes = new TextEncoder().encode(cardLines(marks).join("\n"));
  const hash = await crypto.subtle.digest("SHA-256", bytes);
  return [...new Uint8Array(hash)].map((byte) => byte.toString(16).padStart(2, "0")).join("");
}

/**
 * Lay the phone's own touches over what the server last gave.
 *
 * Held touches are with the office and do not stand; delivered ones count until a bundle made
 * after them has arrived. Order is by the phone's count, never by a clock.
 *
 * @param {Bundle} bundle
 * @param {StoredEvent[]} events of this pairing, in any order
 * @returns {{wagons: Wagon[], answers: Map<number, StoredEvent>}}
 */
export function overlay(bundle, events) {
  const wagons = gather(bundle);
  const byEntry = new Map(wagons.map((wagon) => [wagon.entry.id, wagon]));
  /** @type {Map<number, StoredEvent>} */
  const answers = new Map();
  const order = [...events].sort((a, b) => a.seq - b.seq);
  for (const event of order) {
    const { body } = event;
    const wagon = byEntry.get(body.entry ?? -1);
    if (body.kind === "concern" && wagon) wagon.concerns.push(event.id);
    if (event.status === "held" || event.in_bundle) continue;
    if (body.kind === "answer") answers.set(Number(body.question), event);
    else if (wagon) lay(wagon.card, body);
  }
  for (const [id, event] of answers) correct(bundle, byEntry, id, event);
  return { wagons, answers };
}

/**
 * @param {Bundle} bundle
 * @returns {Wagon[]} in the order of their first visit
 */
function gather(bundle) {
  /** @type {Map<number, Visit[]>} */
  const visits = new Map();
  for (const visit of bundle.visits) {
    visits.set(visit.entry.id, [...(visits.get(visit.entry.id) ?? []), visit]);
  }
  return [...visits.values()].map((of) => ({
    entry: of[0].entry,
    visits: of,
    sections: rowsFor(
      bundle.card,
      of.flatMap((visit) => visit.sections),
      of[0].entry.rig,
    ),
    card: structuredClone(of[0].card),
    concerns: [],
  }));
}

/**
 * @param {CardState} card
 * @param {StoredEvent["body"]} body
 */
function lay(card, body) {
  if (body.kind === "mark") {
    card.marks[String(body.criterion)] = {
      state: body.state ?? "marked",
      value: body.value ?? null,
    };
  }
  if (body.kind === "clear") delete card.marks[String(body.criterion)];
  if (body.kind === "hand_in") card.handed_in = true;
  if (body.kind !== "remark") return;
  if (body.text) card.remarks[String(body.section)] = body.text;
  else delete card.remarks[String(body.section)];
}

/**
 * @param {Bundle} bundle
 * @param {Map<number, Wagon>} byEntry
 * @param {number} id question
 * @param {StoredEvent} event its answer
 */
function correct(bundle, byEntry, id, event) {
  const question = bundle.questions.find((asked) => asked.id === id);
  const card = question && byEntry.get(question.entry)?.card;
  if (!question || !card || event.body.verdict !== "correct") return;
  card.marks[question.criterion] = { state: "marked", value: event.body.value ?? null };
}

/**
 * Say where each wagon stands: handed in, being judged, the next one, or later.
 *
 * @param {Wagon[]} wagons in the order they are visited
 * @returns {Map<number, "done" | "in work" | "next" | "later">} by entry
 */
export function standings(wagons) {
  /** @type {Map<number, "done" | "in work" | "next" | "later">} */
  const found = new Map();
  let next = true;
  for (const { entry, card } of wagons) {
    if (card.handed_in) found.set(entry.id, "done");
    else if (Object.keys(card.marks).length) found.set(entry.id, "in work");
    else {
      found.set(entry.id, next ? "next" : "later");
      next = false;
    }
  }
  return found;
}

/**
 * Return the minutes planned for the sections this judge has at the wagon.
 *
 * @param {Wagon} wagon
 * @returns {number}
 */
export function plannedMinutes(wagon) {
  return wagon.sections.reduce((sum, { section }) => sum + section.minutes, 0);
}

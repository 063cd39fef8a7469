/** What can be said about a card from its values alone. */

import { applies } from "./condition.js";
import { plain } from "./number.js";
import { rigWords } from "./words.js";

/** @import {Bundle, Criterion, Mark, Rig, Scorecard, Section, StoredEvent, Visit, Wagon} from "./types.js" */

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
 * after them has arrived. Order is by the phone's count, never by a clock. Rows are formed and
 * marks parted last, so that a mark put aside by one rig is back with the next.
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
    else if (wagon) lay(wagon, body);
  }
  for (const [id, event] of answers) correct(bundle, byEntry, id, event);
  for (const wagon of wagons) form(bundle, wagon);
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
  return [...visits.values()].map((of) => {
    const card = structuredClone(of[0].card);
    return {
      entry: of[0].entry,
      practice: of[0].practice,
      visits: of,
      rig: of[0].entry.rig,
      rig_words: of[0].entry.rig_words,
      report: of[0].rig_report,
      sections: [],
      // All marks together, until the last word on the rig parts them.
      card: { ...card, marks: { ...card.aside, ...card.marks }, aside: {} },
      concerns: [],
    };
  });
}

/**
 * @param {Wagon} wagon
 * @param {StoredEvent["body"]} body
 */
function lay(wagon, body) {
  const { card } = wagon;
  if (body.kind === "mark") {
    card.marks[String(body.criterion)] = {
      state: body.state ?? "marked",
      value: body.value ?? null,
    };
  }
  if (body.kind === "clear") delete card.marks[String(body.criterion)];
  if (body.kind === "hand_in") card.handed_in = true;
  if (body.kind === "rig") {
    wagon.rig = body.rig ?? wagon.rig;
    // Back to what was entered takes the report back.
    const asks = !sameRig(wagon.rig, wagon.entry.rig_entered);
    wagon.report = asks ? { state: "open", text: body.text ?? "", note: "" } : null;
  }
  if (body.kind !== "remark") return;
  if (body.text) card.remarks[String(body.section)] = body.text;
  else delete card.remarks[String(body.section)];
}

/** @param {Rig} one @param {Rig} other */
export const sameRig = (one, other) =>
  Object.entries(one).every(([fact, value]) => other[fact] === value);

/**
 * Form the rows for the rig as it stands now, and put aside what was marked on rows it lacks.
 *
 * @param {Bundle} bundle
 * @param {Wagon} wagon
 */
function form(bundle, wagon) {
  const { card, rig, entry } = wagon;
  if (rig !== entry.rig) wagon.rig_words = rigWords(bundle.rig_facts, rig);
  wagon.sections = rowsOn(bundle.card, wagon, rig);
  const { marks, aside } = part(bundle.card, card.marks, rig);
  Object.assign(card, { marks, aside });
}

/** @param {Scorecard} card @param {Wagon} wagon @param {Rig} rig */
const rowsOn = (card, wagon, rig) =>
  rowsFor(
    card,
    wagon.visits.flatMap((visit) => visit.sections),
    rig,
  );

/**
 * Part the marks on rows of this rig from those that wait for another.
 *
 * @param {Scorecard} card
 * @param {Record<string, Mark>} all by criterion
 * @param {Rig} rig
 * @returns {{marks: Record<string, Mark>, aside: Record<string, Mark>}}
 */
function part(card, all, rig) {
  const rows = card.sections.flatMap((section) => section.criteria);
  const off = new Set(rows.filter((row) => !applies(row.applies, rig)).map((row) => row.code));
  const given = Object.entries(all);
  return {
    marks: Object.fromEntries(given.filter(([code]) => !off.has(code))),
    aside: Object.fromEntries(given.filter(([code]) => off.has(code))),
  };
}

/**
 * Say what another rig would do to the card.
 *
 * @param {Scorecard} card
 * @param {Wagon} wagon
 * @param {Rig} rig
 * @returns {{fewer: number, more: number, aside: number, back: number}}
 */
export function changeOf(card, wagon, rig) {
  const codes = (/** @type {Wagon["sections"]} */ parts) =>
    new Set(parts.flatMap(({ rows }) => rows.map((row) => row.code)));
  const before = codes(wagon.sections);
  const after = codes(rowsOn(card, wagon, rig));
  const parted = part(card, { ...wagon.card.aside, ...wagon.card.marks }, rig);
  return {
    fewer: [...before].filter((code) => !after.has(code)).length,
    more: [...after].filter((code) => !before.has(code)).length,
    aside: Object.keys(parted.aside).filter((code) => wagon.card.marks[code]).length,
    back: Object.keys(parted.marks).filter((code) => wagon.card.aside[code]).length,
  };
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
 * The practice wagon is never the next one.
 *
 * @param {Wagon[]} wagons in the order they are visited
 * @returns {Map<number, "done" | "in work" | "next" | "later">} by entry
 */
export function standings(wagons) {
  /** @type {Map<number, "done" | "in work" | "next" | "later">} */
  const found = new Map();
  let next = true;
  for (const { entry, card, practice } of wagons) {
    if (card.handed_in) found.set(entry.id, "done");
    else if (Object.keys(card.marks).length) found.set(entry.id, "in work");
    else if (practice) found.set(entry.id, "later");
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

/** What can be said about a card from its values alone. */

import { applies } from "./condition.ts";
import { plain } from "./number.ts";
import { rigWords } from "./words.ts";
import type {
  Bundle,
  Criterion,
  Mark,
  Rig,
  Scorecard,
  Section,
  StoredEvent,
  Visit,
  Wagon,
} from "./types.ts";

/**
 * Return the rows of the named sections that are judged on this rig, section by section.
 *
 * @param codes sections
 */
export function rowsFor(
  card: Scorecard,
  codes: string[],
  rig: Rig,
): { section: Section; rows: Criterion[] }[] {
  return card.sections
    .filter((section) => codes.includes(section.code))
    .map((section) => ({
      section,
      rows: section.criteria.filter((row) => applies(row.applies, rig)),
    }));
}

/** Return the rows that still lack a mark, in the card's order. */
export function missingRows(wagon: Wagon): Criterion[] {
  return wagon.sections.flatMap(({ rows }) => rows).filter((row) => !wagon.card.marks[row.code]);
}

/**
 * Return the lines the card hash is made of.
 *
 * @param marks by criterion
 */
export function cardLines(marks: Record<string, Mark>): string[] {
  return Object.entries(marks)
    .map(([code, mark]) => {
      const value = mark.state === "marked" && mark.value !== null ? plain(mark.value) : "";
      return `${code}=${mark.state}:${value}`;
    })
    .sort();
}

/** Return the codes of the rows on which two cards have other marks. */
export function rowsApart(one: Record<string, Mark>, other: Record<string, Mark>): string[] {
  const [here, there] = [new Set(cardLines(one)), new Set(cardLines(other))];
  const apart = [...here, ...there].filter((line) => !(here.has(line) && there.has(line)));
  return [...new Set(apart.map((line) => line.slice(0, line.indexOf("="))))];
}

/** Return the card's SHA-256, or "" where the browser has no hashing (a page without https). */
export async function cardHash(marks: Record<string, Mark>): Promise<string> {
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
 * @param events of this pairing, in any order
 */
export function overlay(
  bundle: Bundle,
  events: StoredEvent[],
): { wagons: Wagon[]; answers: Map<number, StoredEvent> } {
  const wagons = gather(bundle);
  const byEntry = new Map(wagons.map((wagon) => [wagon.entry.id, wagon]));
  const answers: Map<number, StoredEvent> = new Map();
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

/** In the order of their first visit. */
function gather(bundle: Bundle): Wagon[] {
  const visits: Map<number, Visit[]> = new Map();
  for (const visit of bundle.visits) {
    visits.set(visit.entry.id, [...(visits.get(visit.entry.id) ?? []), visit]);
  }
  return [...visits.values()].flatMap((of): Wagon[] => {
    const [first] = of;
    if (!first) return [];
    const { entry, practice, scratched, rig_report: report } = first;
    const card = structuredClone(first.card);
    return [
      {
        entry,
        practice,
        scratched,
        visits: of,
        rig: entry.rig,
        rig_words: entry.rig_words,
        report,
        sections: [],
        // All marks together, until the last word on the rig parts them.
        card: { ...card, marks: { ...card.aside, ...card.marks }, aside: {} },
        concerns: [],
      },
    ];
  });
}

function lay(wagon: Wagon, body: StoredEvent["body"]) {
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

export const sameRig = (one: Rig, other: Rig) =>
  Object.entries(one).every(([fact, value]) => other[fact] === value);

/** Form the rows for the rig as it stands now, and put aside what was marked on rows it lacks. */
function form(bundle: Bundle, wagon: Wagon) {
  const { card, rig, entry } = wagon;
  if (rig !== entry.rig) wagon.rig_words = rigWords(bundle.rig_facts, rig);
  wagon.sections = rowsOn(bundle.card, wagon, rig);
  const { marks, aside } = part(bundle.card, card.marks, rig);
  Object.assign(card, { marks, aside });
}

const rowsOn = (card: Scorecard, wagon: Wagon, rig: Rig) =>
  rowsFor(
    card,
    wagon.visits.flatMap((visit) => visit.sections),
    rig,
  );

/**
 * Part the marks on rows of this rig from those that wait for another.
 *
 * @param all by criterion
 */
function part(
  card: Scorecard,
  all: Record<string, Mark>,
  rig: Rig,
): { marks: Record<string, Mark>; aside: Record<string, Mark> } {
  const rows = card.sections.flatMap((section) => section.criteria);
  const off = new Set(rows.filter((row) => !applies(row.applies, rig)).map((row) => row.code));
  const given = Object.entries(all);
  return {
    marks: Object.fromEntries(given.filter(([code]) => !off.has(code))),
    aside: Object.fromEntries(given.filter(([code]) => off.has(code))),
  };
}

/** Say what another rig would do to the card. */
export function changeOf(
  card: Scorecard,
  wagon: Wagon,
  rig: Rig,
): { fewer: number; more: number; aside: number; back: number } {
  const codes = (parts: Wagon["sections"]) =>
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
 * @param id question
 * @param event its answer
 */
function correct(bundle: Bundle, byEntry: Map<number, Wagon>, id: number, event: StoredEvent) {
  const question = bundle.questions.find((asked) => asked.id === id);
  // Only a question about one mark has a row.
  if (!question?.entry || !question.criterion || event.body.verdict !== "correct") return;
  const card = byEntry.get(question.entry)?.card;
  if (card) card.marks[question.criterion] = { state: "marked", value: event.body.value ?? null };
}

export type Standing = "done" | "in work" | "next" | "later" | "scratched";

/**
 * Say where each wagon stands: handed in, being judged, the next one, later, or out of the show.
 *
 * The practice wagon and a scratched one are never the next one.
 *
 * @param wagons in the order they are visited
 * @returns by entry
 */
export function standings(wagons: Wagon[]): Map<number, Standing> {
  const found: Map<number, Standing> = new Map();
  let next = true;
  for (const { entry, card, practice, scratched } of wagons) {
    if (scratched) found.set(entry.id, "scratched");
    else if (card.handed_in) found.set(entry.id, "done");
    else if (Object.keys(card.marks).length) found.set(entry.id, "in work");
    else if (practice) found.set(entry.id, "later");
    else {
      found.set(entry.id, next ? "next" : "later");
      next = false;
    }
  }
  return found;
}

/** Return the minutes planned for the sections this judge has at the wagon. */
export function plannedMinutes(wagon: Wagon): number {
  return wagon.sections.reduce((sum, { section }) => sum + section.minutes, 0);
}

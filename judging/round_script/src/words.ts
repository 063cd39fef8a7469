/** The words of the round, in one place. */

import type { Standing } from "./card.ts";
import type {
  Criterion,
  Form,
  Mark,
  MarkState,
  Rig,
  RigFact,
  StoredEvent,
  Touch,
} from "./types.ts";

const AT: Intl.DateTimeFormatOptions = { hour: "2-digit", minute: "2-digit", hourCycle: "h23" };

export const SAFETY =
  "A score is never a safety inspection. Danger: raise a safety concern and tell the steward.";

export const VOICE = "Tell a steward by voice now: there may be no signal.";

export const DANGER: Record<Criterion["danger"], string> = {
  A: "Danger A. With a fault here: do not move the team; tell the steward",
  B: "Danger B. With a fault here: mend before moving; tell the steward",
  C: "C: counts in the score only",
  "": "C: counts in the score only",
};

export const DEGREES: [NonNullable<Touch["degree"]>, string, string][] = [
  ["stop", "Stop", "The team should not move. Tell the steward now, by voice."],
  ["mend", "Mend before moving", "To be mended before the team moves. Tell the steward."],
  ["note", "Note", "For the office to know."],
];

/** What stands in place of a mark. */
export const STATES: Record<Exclude<MarkState, "marked">, string> = {
  not_applicable: "Does not apply",
  not_inspected: "Could not be inspected",
};

/** What a row of a pass-or-fail section says, by its value. */
const RESULTS: Record<string, string> = { 1: "Pass", 0: "Fail" };

export const STANDINGS: Record<Standing, string> = {
  done: "Handed in",
  "in work": "In work",
  next: "Next",
  later: "Later",
  scratched: "Scratched",
};

export const some = (count: number, one: string, many = `${one}s`) =>
  `${count} ${count === 1 ? one : many}`;

/** Say a mark's value as its row is judged: a number, a place, pass or fail. */
export function valueWords(value: string, row: { form: Form } | undefined) {
  if (row?.form === "pass_fail") return RESULTS[value] ?? value;
  return row?.form === "placings" ? `Place ${value}` : value;
}

export function markWords(mark: Mark | undefined, row: { form: Form } | undefined) {
  if (!mark) return "no mark";
  return mark.state === "marked"
    ? valueWords(mark.value ?? "", row)
    : STATES[mark.state].toLowerCase();
}

/** @param only facts to name */
export const rigWords = (facts: RigFact[], rig: Rig, only?: string[]) =>
  facts
    .filter(({ fact }) => !only || only.includes(fact))
    .map(({ fact, values }) => values.find(({ value }) => value === rig[fact])?.words ?? rig[fact])
    .join(", ");

export const wagonWords = ({
  number,
  wagon_name,
}: {
  number: number | null;
  wagon_name: string;
}) => (number === null ? wagon_name : `No. ${number} ${wagon_name}`);

/**
 * Say what a touch was.
 *
 * @param rows of the whole card
 */
export function touchWords(body: StoredEvent["body"], rows: Criterion[], facts: RigFact[]) {
  const row = rows.find(({ code }) => code === body.criterion);
  const name = row?.name ?? body.criterion ?? "";
  switch (body.kind) {
    case "mark":
      return `${name}: ${markWords({ state: body.state ?? "marked", value: body.value ?? null }, row)}`;
    case "clear":
      return `${name}: mark taken back`;
    case "remark":
      return body.text ? `Remark: “${body.text}”` : "Remark taken back";
    case "concern":
      return `Safety concern (${body.degree})${name ? `: ${name}` : ""}`;
    case "open":
      return "Card opened";
    case "hand_in":
      return "Card handed in";
    case "rig":
      return `The rig as you found it: ${rigWords(facts, body.rig ?? {})}`;
    default:
      return "Answer to the office";
  }
}

/** The eight digits of a card's hash that people read to each other, in two groups of four. */
export const shortHash = (hash: string) => `${hash.slice(0, 4)} ${hash.slice(4, 8)}`;

/**
 * Write a moment of the show in the show's own zone.
 *
 * @param moment RFC 3339
 */
export function clock(moment: string | null, zone: string) {
  if (!moment) return "";
  return new Intl.DateTimeFormat("en", { ...AT, timeZone: zone }).format(new Date(moment));
}

/** Write when this phone last heard the server, by the phone's own clock. */
export function contactWords(at: number) {
  if (!at) return "no contact yet";
  const minutes = Math.round((Date.now() - at) / 60_000);
  if (minutes < 1) return "last contact just now";
  if (minutes < 60) return `last contact ${minutes} min ago`;
  return `last contact ${new Intl.DateTimeFormat("en", AT).format(at)}`;
}

/** Return the sentences of a show's cautions or policies, whether given as a list or by name. */
export function sentences(given: unknown): string[] {
  if (Array.isArray(given)) return given.flatMap(sentences);
  if (given && typeof given === "object") return Object.values(given).flatMap(sentences);
  return given ? [String(given)] : [];
}

/** The words of the round, in one place. */

/** @import {Criterion, Form, Mark, Rig, RigFact, StoredEvent} from "./types.js" */

export const SAFETY =
  "A score is never a safety inspection. Danger: raise a safety concern and tell the steward.";

export const VOICE = "Tell a steward by voice now: there may be no signal.";

export const DANGER = /** @type {Record<string, string>} */ ({
  A: "Danger A. With a fault here: do not move the team; tell the steward",
  B: "Danger B. With a fault here: mend before moving; tell the steward",
  C: "C: counts in the score only",
});

export const DEGREES = /** @type {[("stop" | "mend" | "note"), string, string][]} */ ([
  ["stop", "Stop", "The team should not move. Tell the steward now, by voice."],
  ["mend", "Mend before moving", "To be mended before the team moves. Tell the steward."],
  ["note", "Note", "For the office to know."],
]);

export const STATES = /** @type {Record<string, string>} */ ({
  not_applicable: "Does not apply",
  not_inspected: "Could not be inspected",
});

/** What a row of a pass-or-fail section says, by its value. */
export const RESULTS = /** @type {Record<string, string>} */ ({ 1: "Pass", 0: "Fail" });

export const STANDINGS = /** @type {Record<string, string>} */ ({
  done: "Handed in",
  "in work": "In work",
  next: "Next",
  later: "Later",
});

/** @param {number} count @param {string} one @param {string} [many] */
export const some = (count, one, many = `${one}s`) => `${count} ${count === 1 ? one : many}`;

/**
 * Say a mark's value as its row is judged: a number, a place, pass or fail.
 *
 * @param {string} value
 * @param {{form: Form} | undefined} row
 */
export function valueWords(value, row) {
  if (row?.form === "pass_fail") return RESULTS[value] ?? value;
  return row?.form === "placings" ? `Place ${value}` : value;
}

/** @param {Mark | undefined} mark @param {{form: Form} | undefined} row */
export function markWords(mark, row) {
  if (!mark) return "no mark";
  return mark.state === "marked"
    ? valueWords(mark.value ?? "", row)
    : STATES[mark.state].toLowerCase();
}

/** @param {RigFact[]} facts @param {Rig} rig @param {string[]} [only] facts to name */
export const rigWords = (facts, rig, only) =>
  facts
    .filter(({ fact }) => !only || only.includes(fact))
    .map(({ fact, values }) => values.find(({ value }) => value === rig[fact])?.words ?? rig[fact])
    .join(", ");

/** @param {{number: number | null, wagon_name: string}} entry */
export const wagonWords = ({ number, wagon_name }) =>
  number === null ? wagon_name : `No. ${number} ${wagon_name}`;

/**
 * Say what a touch was.
 *
 * @param {StoredEvent["body"]} body
 * @param {Criterion[]} rows of the whole card
 * @param {RigFact[]} facts
 */
export function touchWords(body, rows, facts) {
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

/**
 * Write a moment of the show in the show's own zone.
 *
 * @param {string | null} moment RFC 3339
 * @param {string} zone
 */
export function clock(moment, zone) {
  if (!moment) return "";
  const at = { hour: "2-digit", minute: "2-digit", hourCycle: "h23" };
  return new Intl.DateTimeFormat("en", /** @type {any} */ ({ ...at, timeZone: zone })).format(
    new Date(moment),
  );
}

/** Write when this phone last heard the server, by the phone's own clock. @param {number} at */
export function contactWords(at) {
  if (!at) return "no contact yet";
  const minutes = Math.round((Date.now() - at) / 60_000);
  if (minutes < 1) return "last contact just now";
  if (minutes < 60) return `last contact ${minutes} min ago`;
  const when = new Intl.DateTimeFormat("en", {
    hour: "2-digit",
    minute: "2-digit",
    hourCycle: "h23",
  });
  return `last contact ${when.format(at)}`;
}

/**
 * Return the sentences of a show's cautions or policies, whether given as a list or by name.
 *
 * @param {unknown} given
 * @returns {string[]}
 */
export function sentences(given) {
  if (Array.isArray(given)) return given.flatMap(sentences);
  if (given && typeof given === "object") return Object.values(given).flatMap(sentences);
  return given ? [String(given)] : [];
}

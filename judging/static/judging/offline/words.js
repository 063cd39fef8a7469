/** The words of the round, in one place. */

/** @import {Mark, StoredEvent} from "./types.js" */

export const SAFETY =
  "A score is never a safety inspection. Danger: raise a safety concern and tell the steward.";

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

export const STANDINGS = /** @type {Record<string, string>} */ ({
  done: "Handed in",
  "in work": "In work",
  next: "Next",
  later: "Later",
});

/** @param {number} count @param {string} one @param {string} [many] */
export const some = (count, one, many = `${one}s`) => `${count} ${count === 1 ? one : many}`;

/** @param {Mark | undefined} mark */
export function markWords(mark) {
  if (!mark) return "no mark";
  return mark.state === "marked" ? (mark.value ?? "") : STATES[mark.state].toLowerCase();
}

/** @param {{number: number | null, wagon_name: string}} entry */
export const wagonWords = ({ number, wagon_name }) =>
  number === null ? wagon_name : `No. ${number} ${wagon_name}`;

/**
 * Say what a touch was.
 *
 * @param {StoredEvent["body"]} body
 * @param {(code: string) => string} rowName
 */
export function touchWords(body, rowName) {
  const row = body.criterion ? rowName(body.criterion) : "";
  switch (body.kind) {
    case "mark":
      return `${row}: ${markWords({ state: body.state ?? "marked", value: body.value ?? null })}`;
    case "clear":
      return `${row}: mark taken back`;
    case "remark":
      return body.text ? `Remark: “${body.text}”` : "Remark taken back";
    case "concern":
      return `Safety concern (${body.degree})${row ? `: ${row}` : ""}`;
    case "hand_in":
      return "Card handed in";
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

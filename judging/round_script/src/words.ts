/** The words of the round, in one place. */

import { gettext, locale, ngettext, own, pgettext, pieces } from "./language.ts";
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

export const safetyWords = () =>
  gettext(
    "A score is never a safety inspection. Danger: raise a safety concern and tell the steward.",
  );

export function dangerWords(danger: Criterion["danger"]) {
  if (danger === "A")
    return gettext("Danger A. With a fault here: do not move the team; tell the steward");
  return danger === "B"
    ? gettext("Danger B. With a fault here: mend before moving; tell the steward")
    : gettext("C: counts in the score only");
}

/** How grave a concern is: its code, its name, and what it asks for. */
export const degrees = (): [NonNullable<Touch["degree"]>, string, string][] => [
  ["stop", gettext("Stop"), gettext("The team should not move. Tell the steward now, by voice.")],
  [
    "mend",
    gettext("Mend before moving"),
    gettext("To be mended before the team moves. Tell the steward."),
  ],
  ["note", pgettext("a concern", "Note"), gettext("For the office to know.")],
];

/** What stands in place of a mark. */
export const states = (): [Exclude<MarkState, "marked">, string][] => [
  ["not_applicable", gettext("Does not apply")],
  ["not_inspected", gettext("Could not be inspected")],
];

export const stateWords = (state: Exclude<MarkState, "marked">) =>
  new Map(states()).get(state) ?? "";

/** What a row of a pass-or-fail section says, by its value. */
const passWords = (value: string) => {
  if (value === "1") return gettext("Pass");
  return value === "0" ? gettext("Fail") : value;
};

export function standingWords(standing: Standing) {
  const words: Record<Standing, string> = {
    done: pgettext("a card", "Handed in"),
    "in work": pgettext("a card", "In work"),
    next: pgettext("a card", "Next"),
    later: pgettext("a card", "Later"),
    scratched: pgettext("a wagon", "Scratched"),
  };
  return words[standing];
}

export const minuteWords = (n: number) => ngettext("{n} minute", "{n} minutes", n);
export const spotWords = (spot: string | number) =>
  gettext("spot {spot}", { spot: String(spot) });

/** The name of the page, and of its title. */
export const roundWords = () => gettext("Judge's round");

/** Said where something could not be written down. */
export const notSavedWords = () => gettext("Not saved");

/** Say a mark's value as its row is judged: a number, a place, pass or fail. */
export function valueWords(value: string, row: { form: Form } | undefined) {
  if (row?.form === "pass_fail") return passWords(value);
  return row?.form === "placings" ? gettext("Place {place}", { place: value }) : value;
}

export function markWords(mark: Mark | undefined, row: { form: Form } | undefined) {
  if (!mark) return gettext("no mark");
  return mark.state === "marked"
    ? valueWords(mark.value ?? "", row)
    : stateWords(mark.state).toLowerCase();
}

/** A mark beside the most there are to give. */
export const ofWords = (mark: string, most: string) =>
  gettext("{mark} of {most}", { mark, most });

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
}) =>
  number === null
    ? wagon_name
    : gettext("No. {number} {wagon}", { number: String(number), wagon: wagon_name });

/** The same as pieces of a view, the name in the show's language. */
export const wagonPieces = ({
  number,
  wagon_name,
}: {
  number: number | null;
  wagon_name: string;
}) =>
  number === null
    ? [own(wagon_name)]
    : pieces(gettext("No. {number} {wagon}"), { number: String(number), wagon: own(wagon_name) });

/** A wagon by its number alone. */
export const numberWords = (number: number | null) =>
  gettext("No. {number}", { number: String(number ?? "–") });

/**
 * Say what a touch was.
 *
 * @param rows of the whole card
 */
export function touchWords(body: StoredEvent["body"], rows: Criterion[], facts: RigFact[]) {
  const row = rows.find(({ code }) => code === body.criterion);
  const name = row?.name ?? body.criterion ?? "";
  switch (body.kind) {
    case "mark": {
      const mark = markWords({ state: body.state ?? "marked", value: body.value ?? null }, row);
      return pieces("{row}: {mark}", { row: own(name), mark });
    }
    case "clear":
      return pieces(gettext("{row}: mark taken back"), { row: own(name) });
    case "remark":
      return body.text
        ? [gettext("Remark: “{text}”", { text: body.text })]
        : [gettext("Remark taken back")];
    case "concern":
      return concernWords(body.degree ?? "note", name);
    case "open":
      return [gettext("Card opened")];
    case "hand_in":
      return [gettext("Card handed in")];
    case "rig":
      return [gettext("The rig as you found it: {rig}", { rig: rigWords(facts, body.rig ?? {}) })];
    default:
      return [gettext("Answer to the office")];
  }
}

function concernWords(degree: NonNullable<Touch["degree"]>, name: string) {
  const words = {
    stop: gettext("Safety concern (stop)"),
    mend: gettext("Safety concern (mend)"),
    note: gettext("Safety concern (note)"),
  }[degree];
  return name ? pieces("{concern}: {row}", { concern: words, row: own(name) }) : [words];
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
  return new Intl.DateTimeFormat(locale(), { ...AT, timeZone: zone }).format(new Date(moment));
}

/** Write when this phone last heard the server, by the phone's own clock. */
export function contactWords(at: number) {
  if (!at) return gettext("no contact yet");
  const minutes = Math.round((Date.now() - at) / 60_000);
  if (minutes < 1) return gettext("last contact just now");
  if (minutes < 60) return gettext("last contact {n} min ago", { n: minutes });
  const time = new Intl.DateTimeFormat(locale(), AT).format(at);
  return gettext("last contact {time}", { time });
}

/** Return the sentences of a show's cautions or policies, whether given as a list or by name. */
export function sentences(given: unknown): string[] {
  if (Array.isArray(given)) return given.flatMap(sentences);
  if (given && typeof given === "object") return Object.values(given).flatMap(sentences);
  return given ? [String(given)] : [];
}

/**
 * Says every word of the round in the judge's language; what no catalogue has is said in English.
 *
 * A sentence is given whole, with named gaps, so that another language may order it its own way.
 * The show's own words (wagons, sections, rows, the handbook) stay as the show wrote them, and are
 * marked with its language, so that a screen reader says them right.
 */

import es from "../../locale/es/LC_MESSAGES/djangojs.po";

export type Language = "en" | "es";
/** A piece of a view, as `draw.ts` takes it. */
type Piece = Node | string;
type Values = Record<string, string | number>;

/** Each is named in itself. */
export const LANGUAGES: [Language, string][] = [
  ["en", "English"],
  ["es", "Español"],
];
const CATALOGUES: Partial<Record<Language, typeof es>> = { es };
/** Spanish as it is written in Mexico and the United States: 1,234.5. */
const LOCALES: Record<Language, string> = { en: "en", es: "es-MX" };
/** What shows are written in, and the handbook. */
const OF_SHOWS: Language = "en";
/** What a catalogue puts between a word's sense and the word. */
const SENSE = "\u0004";

let spoken: Language = "en";

export const language = (): Language => spoken;
export const locale = (): string => LOCALES[spoken];

/** Return the language of a tag such as "es-MX", if the round speaks it. */
export const known = (tag: string | null | undefined): Language | undefined =>
  LANGUAGES.map(([code]) => code).find((code) => code === tag?.toLowerCase().split("-")[0]);

/** Say everything in this language from now on. */
export function speak(code: Language) {
  spoken = code;
}

/** Say a sentence; gaps without a value stay. */
export const gettext = (sentence: string, values: Values = {}): string =>
  filled(look(sentence) ?? sentence, values);

/** Say a sentence in the form its number `n` asks for. */
export function ngettext(one: string, many: string, n: number, values: Values = {}): string {
  const found = CATALOGUES[spoken];
  const forms = found?.words[one];
  const form = Array.isArray(forms) ? forms[found?.plural(n) ?? 0] : undefined;
  return filled(form ?? (n === 1 ? one : many), { n, ...values });
}

/** Say a word that stands for two things, in the sense named. */
export const pgettext = (sense: string, sentence: string, values: Values = {}): string =>
  filled(look(`${sense}${SENSE}${sentence}`) ?? sentence, values);

function look(key: string): string | undefined {
  const found = CATALOGUES[spoken]?.words[key];
  return Array.isArray(found) ? found[0] : found;
}

const GAP = /\{(\w+)\}/;

const filled = (sentence: string, values: Values) =>
  sentence.replace(new RegExp(GAP, "g"), (gap, name: string) => {
    const value = values[name];
    return value === undefined ? gap : typeof value === "number" ? number(value) : value;
  });

/** Put pieces of a view into the gaps of a sentence already said. */
export function pieces(sentence: string, values: Record<string, Piece>): Piece[] {
  const found: Piece[] = [];
  const add = (piece: Piece) => {
    const last = found.length - 1;
    const before = found[last];
    if (typeof piece === "string" && typeof before === "string") found[last] = before + piece;
    else if (piece !== "") found.push(piece);
  };
  sentence.split(GAP).forEach((part, place) => add(place % 2 ? (values[part] ?? `{${part}}`) : part));
  return found;
}

export const number = (value: number): string =>
  new Intl.NumberFormat(locale(), { maximumFractionDigits: 2 }).format(value);

/** The language attribute of what holds the show's own words; none where the page has it anyway. */
export const ownLanguage = (): Language | null => (spoken === OF_SHOWS ? null : OF_SHOWS);

/** The show's own words, within words of the page. */
export function own(words: string): Piece {
  if (spoken === OF_SHOWS || !words) return words;
  const made = document.createElement("span");
  made.lang = OF_SHOWS;
  made.textContent = words;
  return made;
}

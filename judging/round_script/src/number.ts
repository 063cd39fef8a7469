/** Marks are decimals in text; nothing here goes through binary fractions. */

const PLACES = 2;

/**
 * Write a decimal without trailing zeros, as the card hash needs it.
 *
 * @param text such as "7.50"
 * @returns such as "7.5"
 */
export function plain(text: string): string {
  const [whole = "", part = ""] = text.split(".");
  const digits = part.replace(/0+$/, "");
  const lead = whole.replace(/^0+(?=\d)/, "");
  return digits ? `${lead}.${digits}` : lead;
}

/** Read a decimal as a whole number of hundredths. */
export function hundredths(text: string): number {
  const [whole, part = ""] = text.split(".");
  return Number(whole) * 10 ** PLACES + Number(part.slice(0, PLACES).padEnd(PLACES, "0"));
}

/** Return every mark a criterion takes, from 0 to its maximum, in steps. */
export function marksOf(criterion: { max_mark: string; step: string }): string[] {
  const step = hundredths(criterion.step);
  const top = hundredths(criterion.max_mark);
  const marks: string[] = [];
  for (let at = 0; step > 0 && at <= top; at += step) {
    const rest = String(at % 10 ** PLACES).padStart(PLACES, "0");
    marks.push(plain(`${Math.floor(at / 10 ** PLACES)}.${rest}`));
  }
  return marks;
}

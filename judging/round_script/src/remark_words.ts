/** How a remark is kept, and what its field says of itself. */

import { gettext } from "./language.ts";

export const LONGEST = 300;

/** A remark as it is kept: on one line. */
export const tidyRemark = (text: string) => text.replace(/\s+/g, " ").trim();

/**
 * Say whether the words shown are the words kept.
 *
 * @param shown in the field
 * @param kept on the disk
 */
export function hintWords(shown: string, kept: string) {
  if (tidyRemark(shown) !== kept) return gettext("Not saved yet.");
  return kept ? gettext("Saved.") : gettext("Up to {n} letters.", { n: LONGEST });
}

/** Why something was not taken, in the judge's words: by the server's code, which never changes. */

import { gettext, language } from "./language.ts";

/**
 * Say why a touch or a photo did not take effect.
 *
 * @param reason the server's own sentence, as it was kept: it is English, and often tells more
 */
export function reasonWords(code: string, reason: string): string {
  const known = alwaysSaid(code);
  if (known || (language() === "en" && reason)) return known || reason;
  return said(code) || reason || gettext("The server could not read this touch.");
}

/** In words for a judge, whatever the server says. */
function alwaysSaid(code: string): string {
  switch (code) {
    case "after-window":
      return gettext(
        "Made later than the judging window allows. The office decides whether it counts.",
      );
    case "after-signature":
      return gettext(
        "It came after the result was signed. The office decides whether anything is changed.",
      );
    case "device-shut-out":
      return gettext("The office had shut this phone out. It decides whether this counts.");
    default:
      return "";
  }
}

function said(code: string): string {
  switch (code) {
    case "other-device":
      return gettext(
        "Another phone or the office wrote something else here; the office decides.",
      );
    case "card-handed-in":
      return gettext("The card was handed in before; the office decides.");
    case "rows-missing":
      return gettext(
        "Rows of this card are still without a mark; it is handed in when they are in.",
      );
    case "card-differs":
      return gettext(
        "The card you signed is not the card the office has. Look at it again and sign anew.",
      );
    case "not-your-card":
      return gettext("This judge has no card for that entry.");
    case "criterion-not-yours":
      return gettext("That row is not among the sections this judge has here.");
    case "section-not-yours":
      return gettext("That section is not among those this judge has here.");
    case "criterion-not-on-rig":
      return gettext("This row does not apply to this rig.");
    case "question-stale":
      return gettext("What was asked about is gone.");
    case "question-unknown":
      return gettext("There is no such question to this judge.");
    case "question-answered":
      return gettext("This question was answered before.");
    case "mark-aside":
      return gettext(
        "The mark asked about was set aside: the card does not have this row any more. Confirm it to close the question.",
      );
    case "photos-full":
      return gettext("This card has all the photos it can have.");
    case "photo-too-large":
      return gettext("This photo is too large.");
    default:
      return saidOfMarks(code);
  }
}

function saidOfMarks(code: string): string {
  switch (code) {
    case "mark-over-maximum":
    case "mark-below-zero":
    case "mark-off-step":
    case "mark-not-empty":
    case "mark-missing":
    case "place-below-first":
    case "place-not-applicable":
      return gettext("The row cannot take this mark.");
    case "text-too-long":
      return gettext("The text is too long.");
    case "unreadable":
    case "id-reused":
      return gettext("The server could not read this touch.");
    default:
      return "";
  }
}

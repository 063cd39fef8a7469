/** Pairs this phone with a judge by a code that works once. */

import { gettext, language } from "./language.ts";
import * as outbox from "./outbox.ts";
import { ask } from "./reach.ts";

const LETTERS = 8;

/** Why a code was not taken, where the phone has a sentence for it. */
function why(code: string): string {
  switch (code) {
    case "pairing-unknown":
      return gettext(
        "Nobody knows this code. Check the letters, or ask the show office for a new one.",
      );
    case "pairing-used":
      return gettext("This code has been used already. Ask the show office for a new one.");
    case "pairing-expired":
      return gettext("This code has run out. Ask the show office for a new one.");
    case "busy":
      return gettext("Too many tries just now. Wait a minute, then try again.");
    case "silence":
      return gettext(
        "The server cannot be reached. Pairing needs a signal once; after that the round works without.",
      );
    default:
      return "";
  }
}

/**
 * Take the code out of an address such as `/round/#pair=ABCD-3467`.
 *
 * @returns "" when there is none
 */
export function codeIn(fragment: string): string {
  return tidyCode(new URLSearchParams(fragment.replace(/^#/, "")).get("pair") ?? "");
}

/** Write a code as the office writes it, however it was typed. */
export function tidyCode(typed: string): string {
  const letters = typed
    .toUpperCase()
    .replace(/[^A-Z0-9]/g, "")
    .slice(0, LETTERS);
  return letters.length > 4 ? `${letters.slice(0, 4)}-${letters.slice(4)}` : letters;
}

/**
 * Pair, and fetch the round.
 *
 * @param label what the judge calls this phone
 */
export async function pair(
  code: string,
  label: string,
): Promise<{ paired: boolean; code: string; words: string }> {
  const reply = await ask("/api/v1/device/pair", { body: { code, label } });
  if (!reply.reached) return refused("silence");
  if (reply.status === 429) return refused("busy");
  const { token, device, judge, show } = reply.body ?? {};
  if (reply.status !== 201 || !token || !device) {
    const known = String(reply.body?.code ?? "other");
    // The server's own sentence here is English.
    return refused(known, why(known) || (language() === "en" ? reply.body?.detail : ""));
  }
  await outbox.adoptDevice({
    id: device.id,
    token,
    label: device.label ?? label,
    judge,
    show,
    next_seq: 1,
    shut: "",
  });
  return { paired: true, code: "", words: "" };
}

const refused = (code: string, words?: string) => ({
  paired: false,
  code,
  words:
    words ||
    why(code) ||
    gettext("The server could not pair this phone. Try again, or ask the show office."),
});

/**
 * Ask the browser not to clear what the round keeps.
 *
 * @returns its answer; false where it cannot be asked
 */
export async function askToStay(): Promise<boolean> {
  if (!navigator.storage?.persist) return false;
  return (await navigator.storage.persisted()) || navigator.storage.persist();
}

/** Say whether the browser keeps the page's data now; it may have changed its mind. */
export async function staysNow(): Promise<boolean> {
  return (await navigator.storage?.persisted?.()) ?? false;
}

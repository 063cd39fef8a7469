/** Pairs this phone with a judge by a code that works once. */

import { gettext, language } from "./language.ts";
import * as outbox from "./outbox.ts";
import { ask } from "./reach.ts";
import type { Reply, Silence } from "./reach.ts";
import type { Owner } from "./types.ts";

const LETTERS = 8;
/** Of earlier pairings, as many as the server reads. */
const MOST_EARLIER = 50;

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

/** Ask whose phone a code would make; it stays unused. */
export async function ownerOf(code: string): Promise<{ owner: Owner | null; words: string }> {
  const reply = await ask("/api/v1/device/code", { body: { code } });
  const { judge, show } = (reply.reached && reply.status === 200 && reply.body) || {};
  return judge && show ? { owner: { judge, show }, words: "" } : { owner: null, words: told(reply) };
}

/**
 * Pair, and keep the pairing.
 *
 * @param label what the judge calls this phone
 * @returns "" or why it is not paired
 */
export async function pair(code: string, label: string): Promise<string> {
  const live = (await outbox.devices()).filter(({ shut }) => !shut);
  const earlier = live.slice(-MOST_EARLIER).map(({ token }) => token);
  const reply = await ask("/api/v1/device/pair", { body: { code, label, earlier } });
  const { token, device, judge, show } = (reply.reached && reply.status === 201 && reply.body) || {};
  if (!token || !device) return told(reply);
  await outbox.adoptDevice({
    id: device.id,
    token,
    label: device.label ?? label,
    judge,
    show,
    next_seq: 1,
    shut: "",
  });
  return "";
}

/** Say what the server made of a code that it did not take. */
function told(reply: Reply | Silence): string {
  if (!reply.reached) return why("silence");
  const code = reply.status === 429 ? "busy" : String(reply.body?.code ?? "");
  return (
    why(code) ||
    // The server's own sentence here is English.
    (language() === "en" && reply.body?.detail) ||
    gettext("The server could not pair this phone. Try again, or ask the show office.")
  );
}

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

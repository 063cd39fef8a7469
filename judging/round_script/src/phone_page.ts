/** What this phone holds, how it looks, and pairing it again. */

import { cardHash } from "./card.ts";
import { h } from "./draw.ts";
import * as outbox from "./outbox.ts";
import { drawHeld, drawStuck } from "./held.ts";
import { drawScribe } from "./scribe.ts";
import { HANDS, SIZES, THEMES, choose, look } from "./theme.ts";
import { opensOffline } from "./update.ts";
import { contactWords, shortHash, some, wagonWords } from "./words.ts";
import type { Round } from "./round.ts";
import type { StoredEvent, Wagon } from "./types.ts";

/** How each card of this phone compares with the server's last reply, by entry. */
let compared = new Map() as Map<number, { words: string; same: boolean }>;

/** Work out the comparison anew. */
export async function compareCards(round: Round): Promise<void> {
  const found: typeof compared = new Map();
  if (!round.device) return;
  const receipts = new Map(
    (await outbox.receiptsOf(round.device.id)).map((one) => [one.entry, one]),
  );
  for (const wagon of round.wagons) {
    const told = await compareCard(round, wagon, receipts.get(wagon.entry.id)?.hash);
    if (told) found.set(wagon.entry.id, told);
  }
  compared = found;
}

async function compareCard(round: Round, wagon: Wagon, theirs: string | undefined) {
  const of = (event: StoredEvent) => event.body.entry === wagon.entry.id;
  const waiting = round.waiting.filter(of).length;
  if (waiting)
    return { words: `${some(waiting, "touch", "touches")} only on this phone`, same: false };
  if (!theirs) return null;
  const ours = await cardHash(wagon.card.marks);
  if (!ours) return { words: "cannot be compared on a page without https", same: false };
  const short = shortHash(ours);
  return ours === theirs
    ? { words: `all sent and the same (${short})`, same: true }
    : {
        words: `differs from the office's (${short} here, ${shortHash(theirs)} there)`,
        same: false,
      };
}

export function drawPhone(
  round: Round,
  { paint, repair }: { paint: () => void; repair: () => void },
): HTMLElement[] {
  const kids = [
    h("h1", { id: "phone-title", tabindex: -1 }, "This phone"),
    drawScribe(round, paint),
    drawLook(paint),
    drawHolds(round, paint),
    drawHeld(round),
    drawStuck(round),
    drawPairings(round, repair),
  ];
  return kids.filter(Boolean) as HTMLElement[];
}

function drawLook(paint: () => void) {
  const now = look();
  const group = (what: keyof typeof now, title: string, choices: [string, string][]) =>
    h(
      "fieldset",
      { class: "choices" },
      h("legend", {}, title),
      choices.map(([value, words]) =>
        h(
          "button",
          {
            type: "button",
            id: `${what}-${value}`,
            "aria-pressed": now[what] === value,
            onclick: () => {
              choose(what, value);
              paint();
            },
          },
          words,
        ),
      ),
    );
  return h(
    "section",
    {},
    h("h2", {}, "How it looks"),
    group("theme", "Light", THEMES),
    group("size", "Letters", SIZES),
    group("hand", "Hand that taps", HANDS),
  );
}

function drawHolds(round: Round, paint: () => void) {
  const waiting = round.waiting.length;
  const differs = [...compared.values()].some(({ same }) => !same) && !waiting;
  const lines = round.wagons
    .filter(({ entry }) => compared.has(entry.id))
    .map(({ entry }) => {
      const { words, same } = compared.get(entry.id) ?? { words: "", same: false };
      return h(
        "li",
        { class: same ? "same" : "differs", "data-entry": entry.id },
        h("strong", {}, wagonWords(entry)),
        h("br"),
        same ? "✓ " : "! ",
        words,
      );
    });
  const all = compared.size && [...compared.values()].every(({ same }) => same);
  return h(
    "section",
    { id: "holds" },
    h("h2", {}, "What this phone holds"),
    h(
      "dl",
      { class: "counts" },
      h("dt", {}, "Touches kept"),
      h("dd", { id: "kept-count" }, String(round.events.length)),
      h("dt", {}, "Only on this phone"),
      h("dd", { id: "waiting-count" }, String(waiting)),
      h("dt", {}, "Contact"),
      h("dd", {}, contactWords(round.contact)),
      h("dt", {}, "Opens without signal"),
      h("dd", {}, opensOffline() ? "yes" : "not yet"),
      h("dt", {}, "May the phone clear it?"),
      h(
        "dd",
        { id: "stays" },
        round.stays ? "no, the browser keeps it" : "yes: keep the page open or install it",
      ),
    ),
    all ? h("p", { class: "handed" }, "✓ All sent and the same as at the office.") : null,
    h("ul", { class: "compared" }, lines),
    differs
      ? h(
          "p",
          {},
          "A card differs when another phone or the office changed it, or when the server lost something. Sending all again does no harm: the server knows each touch.",
        )
      : null,
    h(
      "div",
      { class: "pair" },
      h(
        "button",
        { type: "button", class: "big", onclick: () => round.sync.now().then(paint) },
        waiting ? "Send now" : "Ask the office now",
      ),
      differs
        ? h(
            "button",
            { type: "button", class: "plainly", onclick: () => round.sendAllAgain().then(paint) },
            "Send all again",
          )
        : null,
    ),
  );
}

function drawPairings(round: Round, repair: () => void) {
  const { device, earlier, waitingElsewhere } = round;
  const kept = earlier.filter(({ id }) => waitingElsewhere.has(id));
  return h(
    "section",
    {},
    h("h2", {}, "Pairing"),
    device
      ? h(
          "p",
          {},
          `Paired with ${device.judge.name}, ${device.show.name}${device.label ? `, as “${device.label}”` : ""}.`,
        )
      : null,
    kept.length
      ? h(
          "ul",
          { id: "elsewhere" },
          kept.map(({ id, judge }) =>
            h(
              "li",
              {},
              `${some(waitingElsewhere.get(id) ?? 0, "touch", "touches")} of ${judge.name} kept here; sent when the server takes them.`,
            ),
          ),
        )
      : null,
    h("button", { type: "button", class: "plainly", onclick: repair }, "Pair with another code"),
  );
}

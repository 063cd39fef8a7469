/** What this phone holds, how it looks, and pairing it again. */

import { cardHash } from "./card.ts";
import { h } from "./draw.ts";
import { gettext, language, LANGUAGES, ngettext, number, own, pgettext, pieces } from "./language.ts";
import * as outbox from "./outbox.ts";
import { drawHeld, drawStuck } from "./held.ts";
import { drawScribe } from "./scribe.ts";
import { choose, chooseLanguage, hands, look, sizes, themes } from "./theme.ts";
import { opensOffline } from "./update.ts";
import { contactWords, shortHash, wagonPieces } from "./words.ts";
import type { Round } from "./round.ts";
import type { DeviceRecord, StoredEvent, Wagon } from "./types.ts";

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
    return {
      words: ngettext("{n} touch only on this phone", "{n} touches only on this phone", waiting),
      same: false,
    };
  if (!theirs) return null;
  const ours = await cardHash(wagon.card.marks);
  if (!ours) return { words: gettext("cannot be compared on a page without https"), same: false };
  const short = shortHash(ours);
  return ours === theirs
    ? { words: gettext("all sent and the same ({hash})", { hash: short }), same: true }
    : {
        words: gettext("differs from the office's ({here} here, {there} there)", {
          here: short,
          there: shortHash(theirs),
        }),
        same: false,
      };
}

export function drawPhone(
  round: Round,
  { paint, repair }: { paint: () => void; repair: () => void },
): HTMLElement[] {
  const kids = [
    h("h1", { id: "phone-title", tabindex: -1 }, gettext("This phone")),
    drawScribe(round, paint),
    drawLanguage(round, paint),
    drawLook(paint),
    drawHolds(round, paint),
    drawHeld(round),
    drawStuck(round),
    drawPairings(round, repair),
  ];
  return kids.filter(Boolean) as HTMLElement[];
}

/** The round speaks at once as chosen; what the server says follows when there is a signal. */
function drawLanguage(round: Round, paint: () => void) {
  return h(
    "section",
    { id: "language" },
    h("h2", { id: "language-title" }, gettext("Language")),
    h(
      "div",
      { class: "choices", role: "group", "aria-labelledby": "language-title" },
      LANGUAGES.map(([code, name]) =>
        h(
          "button",
          {
            type: "button",
            id: `language-${code}`,
            lang: code,
            "aria-pressed": language() === code,
            onclick: () => {
              chooseLanguage(code);
              round.sync.nudge(0);
              compareCards(round).then(paint, paint);
              paint();
            },
          },
          name,
        ),
      ),
    ),
    h("p", { class: "hint" }, gettext("The show's own words stay as the show wrote them.")),
  );
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
    h("h2", {}, gettext("How it looks")),
    group("theme", gettext("Light"), themes()),
    group("size", gettext("Letters"), sizes()),
    group("hand", gettext("Hand that taps"), hands()),
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
        h("strong", {}, wagonPieces(entry)),
        h("br"),
        same ? "✓ " : "! ",
        words,
      );
    });
  const all = compared.size && [...compared.values()].every(({ same }) => same);
  return h(
    "section",
    { id: "holds" },
    h("h2", {}, gettext("What this phone holds")),
    h(
      "dl",
      { class: "counts" },
      h("dt", {}, gettext("Touches kept")),
      h("dd", { id: "kept-count" }, number(round.events.length)),
      h("dt", {}, gettext("Only on this phone")),
      h("dd", { id: "waiting-count" }, number(waiting)),
      h("dt", {}, pgettext("with the server", "Contact")),
      h("dd", {}, contactWords(round.contact)),
      h("dt", {}, gettext("Opens without signal")),
      h("dd", {}, opensOffline() ? gettext("yes") : gettext("not yet")),
      h("dt", {}, gettext("May the phone clear it?")),
      h(
        "dd",
        { id: "stays" },
        round.stays
          ? gettext("no, the browser keeps it")
          : gettext("yes: keep the page open or install it"),
      ),
    ),
    all ? h("p", { class: "handed" }, "✓ ", gettext("All sent and the same as at the office.")) : null,
    h("ul", { class: "compared" }, lines),
    differs
      ? h(
          "p",
          {},
          gettext(
            "A card differs when another phone or the office changed it, or when the server lost something. Sending all again does no harm: the server knows each touch.",
          ),
        )
      : null,
    h(
      "div",
      { class: "pair" },
      h(
        "button",
        { type: "button", class: "big", onclick: () => round.sync.now().then(paint) },
        waiting ? gettext("Send now") : gettext("Ask the office now"),
      ),
      differs
        ? h(
            "button",
            { type: "button", class: "plainly", onclick: () => round.sendAllAgain().then(paint) },
            gettext("Send all again"),
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
    h("h2", {}, gettext("Pairing")),
    device ? h("p", {}, pairedWords(device)) : null,
    kept.length
      ? h(
          "ul",
          { id: "elsewhere" },
          kept.map(({ id, judge }) =>
            h(
              "li",
              {},
              ngettext(
                "{n} touch of {judge} kept here; sent when the server takes it.",
                "{n} touches of {judge} kept here; sent when the server takes them.",
                waitingElsewhere.get(id) ?? 0,
                { judge: judge.name },
              ),
            ),
          ),
        )
      : null,
    h(
      "button",
      { type: "button", class: "plainly", onclick: repair },
      gettext("Pair with another code"),
    ),
  );
}

const pairedWords = ({ judge, show, label }: DeviceRecord) =>
  label
    ? pieces(gettext("Paired with {judge}, {show}, as “{label}”."), {
        judge: judge.name,
        show: own(show.name),
        label,
      })
    : pieces(gettext("Paired with {judge}, {show}."), { judge: judge.name, show: own(show.name) });

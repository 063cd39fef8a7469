/** Announced times that changed, shown until the judge has seen them. */

import { h } from "./draw.ts";
import { gettext, own, pieces } from "./language.ts";
import { clock, numberWords, wagonPieces } from "./words.ts";
import type { Round } from "./round.ts";
import type { Announcement, TimeChange } from "./types.ts";

export function drawChanges(round: Round, paint: () => void): HTMLElement | null {
  const news = round.bundle?.announcements.filter(({ number }) => number > round.announced) ?? [];
  if (!news.length) return null;
  const zone = round.bundle?.show.zone ?? "UTC";
  const newest = Math.max(...news.map(({ number }) => number));
  return h(
    "aside",
    { class: "note", id: "times-changed" },
    h("h2", {}, gettext("Times changed")),
    ...news.map((one) => drawOne(round, one, zone)),
    h(
      "button",
      {
        type: "button",
        id: "seen-times",
        class: "big",
        onclick: () => round.noteAnnounced(newest).then(paint),
      },
      gettext("Seen"),
    ),
  );
}

function drawOne(round: Round, { at, reason, changes }: Announcement, zone: string) {
  return h(
    "div",
    {},
    h("p", {}, clock(at, zone), reason ? ": " : "", own(reason)),
    h(
      "ul",
      {},
      changes.map((change) => h("li", {}, changeWords(round, change, zone))),
    ),
  );
}

function changeWords(round: Round, { entry, number, was, now }: TimeChange, zone: string) {
  const wagon = round.wagon(entry);
  const name = h("span", {}, wagon ? wagonPieces(wagon.entry) : numberWords(number));
  const span = ([from = "", to = ""]: string[]) => `${clock(from, zone)}–${clock(to, zone)}`;
  if (!now) return pieces(gettext("{wagon}: called off"), { wagon: name });
  return was
    ? pieces(gettext("{wagon}: now {now}, was {was}"), {
        wagon: name,
        now: span(now),
        was: span(was),
      })
    : pieces(gettext("{wagon}: new, {now}"), { wagon: name, now: span(now) });
}

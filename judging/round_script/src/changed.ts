/** Announced times that changed, shown until the judge has seen them. */

import { h } from "./draw.ts";
import { clock, wagonWords } from "./words.ts";
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
    h("h2", {}, "Times changed"),
    ...news.map((one) => drawOne(round, one, zone)),
    h(
      "button",
      {
        type: "button",
        id: "seen-times",
        class: "big",
        onclick: () => round.noteAnnounced(newest).then(paint),
      },
      "Seen",
    ),
  );
}

function drawOne(round: Round, { at, reason, changes }: Announcement, zone: string) {
  return h(
    "div",
    {},
    h("p", {}, [clock(at, zone), reason].filter(Boolean).join(": ")),
    h(
      "ul",
      {},
      changes.map((change) => h("li", {}, changeWords(round, change, zone))),
    ),
  );
}

function changeWords(round: Round, { entry, number, was, now }: TimeChange, zone: string) {
  const wagon = round.wagon(entry);
  const name = wagon ? wagonWords(wagon.entry) : `No. ${number}`;
  const span = ([from = "", to = ""]: string[]) => `${clock(from, zone)}–${clock(to, zone)}`;
  if (!now) return `${name}: called off`;
  return was ? `${name}: now ${span(now)}, was ${span(was)}` : `${name}: new, ${span(now)}`;
}

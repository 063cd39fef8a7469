/** Announced times that changed, shown until the judge has seen them. */

import { h } from "./draw.js";
import { clock, wagonWords } from "./words.js";

/** @import {Round} from "./round.js" */
/** @import {Announcement, TimeChange} from "./types.js" */

/** @param {Round} round @param {() => void} paint @returns {HTMLElement | null} */
export function drawChanges(round, paint) {
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

/** @param {Round} round @param {Announcement} one @param {string} zone */
function drawOne(round, { at, reason, changes }, zone) {
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

/** @param {Round} round @param {TimeChange} change @param {string} zone */
function changeWords(round, { entry, number, was, now }, zone) {
  const wagon = round.wagon(entry);
  const name = wagon ? wagonWords(wagon.entry) : `No. ${number}`;
  const span = (/** @type {string[]} */ [from, to]) => `${clock(from, zone)}–${clock(to, zone)}`;
  if (!now) return `${name}: called off`;
  return was ? `${name}: now ${span(now)}, was ${span(was)}` : `${name}: new, ${span(now)}`;
}

/** The end of a card: which rows still lack a mark, or signing and handing it in. */

import { missingRows } from "./card.js";
import { h, say } from "./draw.js";
import { samePlaces } from "./places.js";
import { some, wagonWords } from "./words.js";

/** @import {Round} from "./round.js" */
/** @import {Wagon} from "./types.js" */

/** The entry whose card is about to be signed; a card is signed in two taps. */
let signing = 0;

/**
 * @param {Round} round
 * @param {Wagon} wagon
 * @param {{paint: () => void, openRow: (code: string) => void}} does
 * @returns {HTMLElement | null}
 */
export function drawHandIn(round, wagon, { paint, openRow }) {
  if (wagon.card.handed_in) return null;
  const missing = missingRows(wagon);
  if (missing.length) return drawMissing(missing, openRow);
  return h(
    "section",
    { class: "handin" },
    h("h2", {}, `${wagonWords(wagon.entry)}: every row has a mark`),
    samePlaces(round.wagons, wagon).map(({ section, sentence }) =>
      h("p", { class: "twice" }, `${section.name}: ${sentence}`),
    ),
    signing === wagon.entry.id ? drawSign(round, wagon, paint) : drawAsk(wagon, paint),
  );
}

/** @param {Wagon} wagon @param {() => void} paint */
function drawAsk(wagon, paint) {
  const ask = () => {
    signing = wagon.entry.id;
    paint();
    document.getElementById("sign")?.focus();
  };
  return h(
    "button",
    { type: "button", id: "hand-in", class: "big", onclick: ask },
    "Hand in this card",
  );
}

/** @param {Round} round @param {Wagon} wagon @param {() => void} paint */
function drawSign(round, wagon, paint) {
  const sign = async () => {
    if (!(await round.handIn(wagon.entry.id))) return;
    signing = 0;
    round.sync.nudge(0);
    say("Card handed in.");
    paint();
    scrollTo({ top: 0, behavior: "instant" });
    document.getElementById("wagon-name")?.focus({ preventScroll: true });
  };
  const wait = () => {
    signing = 0;
    paint();
    document.getElementById("hand-in")?.focus();
  };
  return [
    h("p", {}, "After this you cannot change the marks. The office can still ask you about one."),
    h(
      "div",
      { class: "pair" },
      h("button", { type: "button", id: "sign", class: "big", onclick: sign }, "Sign and hand in"),
      h("button", { type: "button", class: "plainly", onclick: wait }, "Not yet"),
    ),
  ];
}

/** @param {import("./types.js").Criterion[]} rows @param {(code: string) => void} openRow */
function drawMissing(rows, openRow) {
  const drawRow = (/** @type {import("./types.js").Criterion} */ row) => {
    const open = () => openRow(row.code);
    return h("li", {}, h("button", { type: "button", class: "plainly", onclick: open }, row.name));
  };
  const words = some(rows.length, "row has", "rows have");
  return h(
    "section",
    { class: "handin" },
    h("h2", {}, "Hand in this card"),
    h("p", {}, `${words} no mark yet. An empty row is never a zero.`),
    h("ul", { class: "missing" }, rows.map(drawRow)),
  );
}

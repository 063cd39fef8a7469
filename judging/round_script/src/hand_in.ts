/** The end of a card: which rows still lack a mark, or signing and handing it in. */

import { missingRows } from "./card.ts";
import { h, say } from "./draw.ts";
import { gettext, ngettext, own, ownLanguage, pieces } from "./language.ts";
import { samePlaces } from "./places.ts";
import { drawWho, lookWords } from "./scribe.ts";
import { markWords, ofWords, wagonPieces } from "./words.ts";
import type { Round } from "./round.ts";
import type { Criterion, Wagon } from "./types.ts";

/** The entry whose card is about to be signed; a card is signed in two taps. */
let signing = 0;

export function drawHandIn(
  round: Round,
  wagon: Wagon,
  { paint, openRow }: { paint: () => void; openRow: (code: string) => void },
): HTMLElement | null {
  if (wagon.card.handed_in || wagon.scratched) return null;
  const missing = missingRows(wagon);
  if (missing.length) return drawMissing(missing, openRow);
  return h(
    "section",
    { class: "handin" },
    h(
      "h2",
      {},
      pieces(gettext("{wagon}: every row has a mark"), {
        wagon: h("span", {}, wagonPieces(wagon.entry)),
      }),
    ),
    samePlaces(round.wagons, wagon).map(({ section, sentence }) =>
      h("p", { class: "twice" }, own(section.name), ": ", sentence),
    ),
    signing === wagon.entry.id
      ? [drawReview(wagon, openRow), ...drawSign(round, wagon, paint)]
      : drawAsk(wagon, paint),
  );
}

function drawAsk(wagon: Wagon, paint: () => void) {
  const ask = () => {
    signing = wagon.entry.id;
    paint();
    const review = document.getElementById("review-title");
    review?.scrollIntoView({ block: "start", behavior: "instant" });
    review?.focus({ preventScroll: true });
  };
  return h(
    "button",
    { type: "button", id: "hand-in", class: "big", onclick: ask },
    gettext("Review and sign"),
  );
}

/** Every row with its mark, close together, to be looked through before signing. */
function drawReview(wagon: Wagon, openRow: (code: string) => void) {
  return h(
    "div",
    { id: "review" },
    h("h3", { id: "review-title", tabindex: -1 }, gettext("Look through the card")),
    wagon.sections
      .map(({ section, rows }) => [
        h("h4", { lang: ownLanguage() }, section.name),
        h(
          "ul",
          {},
          rows.map((row) => {
            const mark = wagon.card.marks[row.code];
            const plain = mark?.state === "marked" && row.form === "points";
            return h(
              "li",
              {},
              h(
                "button",
                { type: "button", "data-review": row.code, onclick: () => openRow(row.code) },
                h("span", { lang: ownLanguage() }, row.name),
                h("strong", {}, plain ? ofWords(String(mark.value), row.max_mark) : markWords(mark, row)),
              ),
            );
          }),
        ),
      ])
      .flat(),
  );
}

function drawSign(round: Round, wagon: Wagon, paint: () => void) {
  const sign = async () => {
    if (!(await round.handIn(wagon.entry.id))) return;
    signing = 0;
    round.sync.nudge(0);
    say(gettext("Card handed in."));
    paint();
    scrollTo({ top: 0, behavior: "instant" });
    document.getElementById("wagon-name")?.focus({ preventScroll: true });
  };
  const wait = () => {
    signing = 0;
    paint();
    document.getElementById("hand-in")?.focus();
  };
  const look = lookWords(round);
  return [
    drawWho(round),
    look ? h("p", { class: "look-through" }, look) : null,
    h(
      "p",
      {},
      gettext(
        "After this you cannot change the marks. The office can still ask you about one.",
      ),
    ),
    h(
      "div",
      { class: "pair" },
      h(
        "button",
        { type: "button", id: "sign", class: "big", onclick: sign },
        gettext("Sign and hand in"),
      ),
      h("button", { type: "button", class: "plainly", onclick: wait }, gettext("Not yet")),
    ),
  ];
}

function drawMissing(rows: Criterion[], openRow: (code: string) => void) {
  const drawRow = (row: Criterion) => {
    const open = () => openRow(row.code);
    const about = { type: "button", class: "plainly", lang: ownLanguage(), onclick: open };
    return h("li", {}, h("button", about, row.name));
  };
  const words = ngettext(
    "{n} row has no mark yet. An empty row is never a zero.",
    "{n} rows have no mark yet. An empty row is never a zero.",
    rows.length,
  );
  return h(
    "section",
    { class: "handin" },
    h("h2", {}, gettext("Hand in this card")),
    h("p", {}, words),
    h("ul", { class: "missing" }, rows.map(drawRow)),
  );
}

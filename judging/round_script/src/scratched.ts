/** A wagon that left the show: the judge goes on to the next, and what was marked stays. */

import { standings } from "./card.ts";
import { h } from "./draw.ts";
import { gettext, ngettext, pgettext, pieces } from "./language.ts";
import { wagonPieces } from "./words.ts";
import type { Round } from "./round.ts";
import type { Wagon } from "./types.ts";

/** Say how many marks of a scratched wagon are kept, or nothing where there are none. */
export function keptWords(wagon: Wagon): string {
  const count = keptCount(wagon);
  return count ? ngettext("{n} mark kept", "{n} marks kept", count) : "";
}

const keptCount = ({ card }: Wagon) =>
  Object.keys(card.marks).length + Object.keys(card.aside).length;

/** What stands in place of the rows, with the way to the wagon to go to now. */
export function drawScratched(round: Round, wagon: Wagon): HTMLElement | null {
  if (!wagon.scratched) return null;
  const found = standings(round.wagons);
  const first = (standing: string) =>
    round.wagons.find(({ entry, practice }) => !practice && found.get(entry.id) === standing);
  const next = first("in work") ?? first("next");
  const count = keptCount(wagon);
  return h(
    "section",
    { class: "note", id: "scratched" },
    h("h2", {}, pgettext("a wagon", "Scratched")),
    h(
      "p",
      {},
      gettext("This wagon has left the show. Nothing is marked here any more."),
      count ? ` ${keptSentence(count)}` : "",
    ),
    next
      ? h(
          "a",
          { class: "big", id: "go-on", href: `#card=${next.entry.id}` },
          h(
            "span",
            {},
            pieces(gettext("Go on to {wagon}"), { wagon: h("span", {}, wagonPieces(next.entry)) }),
          ),
        )
      : h("a", { class: "big", id: "go-on", href: "#" }, gettext("Go to your list")),
  );
}

const keptSentence = (count: number) =>
  ngettext(
    "{n} mark kept in the record; no result counts them.",
    "{n} marks kept in the record; no result counts them.",
    count,
  );

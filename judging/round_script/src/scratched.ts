/** A wagon that left the show: the judge goes on to the next, and what was marked stays. */

import { standings } from "./card.ts";
import { h } from "./draw.ts";
import { some, wagonWords } from "./words.ts";
import type { Round } from "./round.ts";
import type { Wagon } from "./types.ts";

/** Say how many marks of a scratched wagon are kept, or nothing where there are none. */
export function keptWords({ card }: Wagon): string {
  const count = Object.keys(card.marks).length + Object.keys(card.aside).length;
  return count ? `${some(count, "mark")} kept` : "";
}

/** What stands in place of the rows, with the way to the wagon to go to now. */
export function drawScratched(round: Round, wagon: Wagon): HTMLElement | null {
  if (!wagon.scratched) return null;
  const found = standings(round.wagons);
  const first = (standing: string) =>
    round.wagons.find(({ entry, practice }) => !practice && found.get(entry.id) === standing);
  const next = first("in work") ?? first("next");
  const kept = keptWords(wagon);
  return h(
    "section",
    { class: "note", id: "scratched" },
    h("h2", {}, "Scratched"),
    h(
      "p",
      {},
      "This wagon has left the show. Nothing is marked here any more.",
      kept ? ` ${kept} in the record; no result counts them.` : "",
    ),
    next
      ? h(
          "a",
          { class: "big", id: "go-on", href: `#card=${next.entry.id}` },
          `Go on to ${wagonWords(next.entry)}`,
        )
      : h("a", { class: "big", id: "go-on", href: "#" }, "Go to your list"),
  );
}

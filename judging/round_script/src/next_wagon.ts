/** The wagon a judge goes to next, and the way to its card. */

import { standings } from "./card.ts";
import { h } from "./draw.ts";
import { gettext, own, ownLanguage, pgettext, pieces } from "./language.ts";
import { clock, spotWords } from "./words.ts";
import type { Round } from "./round.ts";
import type { Wagon } from "./types.ts";

type Standings = ReturnType<typeof standings>;

/** A card begun comes before one not begun; none while every card is handed in. */
function nextWagon(round: Round, found: Standings): { wagon: Wagon; begun: boolean } | null {
  const first = (standing: string) =>
    round.wagons.find(({ practice, entry }) => !practice && found.get(entry.id) === standing);
  const inWork = first("in work");
  const wagon = inWork ?? first("next");
  return wagon ? { wagon, begun: Boolean(inWork) } : null;
}

/** Draw the way to the wagon to judge next, if there is one. */
export function drawNext(round: Round, found = standings(round.wagons)): HTMLElement | null {
  const next = nextWagon(round, found);
  if (!next) return null;
  const { entry, visits, sections } = next.wagon;
  const starts = clock(visits[0]?.starts_at ?? null, round.bundle?.show.zone ?? "UTC");
  return h(
    "a",
    { class: "upnext", href: `#card=${entry.id}` },
    h("span", { class: "kicker" }, kickerWords(next.begun, starts)),
    h("span", { class: "number" }, String(entry.number ?? "–")),
    h("span", { class: "name", lang: ownLanguage() }, entry.wagon_name),
    h(
      "span",
      { class: "about" },
      [entry.spot && spotWords(entry.spot), entry.rig_words].filter(Boolean).join(" · "),
    ),
    h(
      "span",
      { class: "about" },
      sections.map(({ section }, place) => [
        place ? " · " : "",
        pieces(gettext("{section} {n} min", { n: section.minutes }), {
          section: own(section.name),
        }),
      ]).flat(2),
    ),
  );
}

function kickerWords(begun: boolean, starts: string) {
  if (begun)
    return starts ? gettext("Go on with, planned {time}", { time: starts }) : gettext("Go on with");
  return starts
    ? gettext("Next, planned {time}", { time: starts })
    : pgettext("a wagon", "Next");
}

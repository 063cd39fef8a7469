/** Places a judge gives in a section that is judged by place alone, over all wagons. */

import { h } from "./draw.ts";
import { gettext, locale } from "./language.ts";
import { wagonPieces } from "./words.ts";
import type { Section, Wagon } from "./types.ts";

/** Return the wagons this judge sees with the section; the practice wagon is none of them. */
const field = (wagons: Wagon[], section: Section): Wagon[] =>
  wagons.filter(
    ({ practice, sections }) =>
      !practice && sections.some((part) => part.section.code === section.code),
  );

/** Return the places there are to give: one for each wagon. */
export const placesOf = (wagons: Wagon[], section: Section): string[] =>
  field(wagons, section).map((_, place) => String(place + 1));

function placeOf(wagon: Wagon, section: Section): string | null {
  for (const { code } of section.criteria) {
    const mark = wagon.card.marks[code];
    if (mark?.state === "marked") return mark.value;
  }
  return null;
}

/** Say where a place was given twice: to this wagon and to another. */
export function samePlaces(
  wagons: Wagon[],
  wagon: Wagon,
): { section: Section; sentence: string }[] {
  if (wagon.practice) return [];
  return wagon.sections.flatMap(({ section }) => {
    const place = section.form === "placings" ? placeOf(wagon, section) : null;
    if (place === null) return [];
    const others = field(wagons, section).filter(
      (one) => one.entry.id !== wagon.entry.id && placeOf(one, section) === place,
    );
    const named = others.map(({ entry }) => String(entry.number ?? entry.wagon_name));
    if (!named.length) return [];
    const wagon_numbers = new Intl.ListFormat(locale(), { type: "conjunction" }).format(named);
    const sentence = gettext("Place {place} is also given to wagon {wagons}.", {
      place,
      wagons: wagon_numbers,
    });
    return [{ section, sentence }];
  });
}

/** List the places given so far in a section, and warn where one of them is given twice. */
export function drawPlaces(wagons: Wagon[], wagon: Wagon, section: Section): HTMLElement | null {
  if (section.form !== "placings") return null;
  const all = field(wagons, section);
  const given = all
    .map((one) => ({ one, place: Number(placeOf(one, section)) }))
    .filter(({ place }) => place)
    .sort((a, b) => a.place - b.place);
  const twice = samePlaces(wagons, wagon).find((found) => found.section.code === section.code);
  return h(
    "div",
    { class: "places", "data-places": section.code },
    twice ? h("p", { class: "twice" }, twice.sentence) : null,
    h("h3", {}, gettext("Places so far: {given} of {all}", { given: given.length, all: all.length })),
    h(
      "ul",
      {},
      given.map(({ one, place }) =>
        h(
          "li",
          { class: one.entry.id === wagon.entry.id ? "here" : "" },
          h("strong", {}, String(place)),
          " ",
          wagonPieces(one.entry),
        ),
      ),
    ),
  );
}

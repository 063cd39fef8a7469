/** Brings a kept bundle into the shape this page reads, also one from before an update. */

import type { components } from "./api.d.ts";
import type { Bundle, CardState, Entry, Question, Scorecard, Section, Visit } from "./types.ts";

type Wire = components["schemas"];
/** A shape as an earlier server may have sent it, without what came later. */
type Early<T, Later extends keyof T> = Omit<T, Later> & Partial<Pick<T, Later>>;

type EarlySection = Early<Omit<Wire["RoundSectionOut"], "criteria">, "form" | "all_or_nothing"> & {
  criteria: Early<Wire["RoundRowOut"], "parts">[];
};
type EarlyCard = Early<Omit<Wire["RoundCardOut"], "sections">, "notice"> & {
  sections: EarlySection[];
};
type EarlyVisit = Early<
  Omit<Visit, "entry" | "card">,
  "practice" | "scratched" | "rig_report" | "photos"
> & {
  entry: Early<Entry, "rig_entered">;
  card: Early<CardState, "hash" | "aside" | "earlier">;
};

/** The round as a server gave it, of this version or of an earlier one. */
export type SentRound = Early<
  Omit<Wire["RoundOut"], "show" | "device" | "handbook" | "card" | "visits" | "questions">,
  "rig_facts" | "policies_by_class" | "announcements" | "photos"
> & {
  show: Early<Bundle["show"], "judging_starts_at">;
  device: Early<Bundle["device"], "scribe" | "taken">;
  handbook?: Partial<Bundle["handbook"]>;
  card: EarlyCard;
  visits: EarlyVisit[];
  questions: Early<Question, "kind" | "check" | "other_entry">[];
};

/** Return the bundle with everything in place that an earlier server did not send yet. */
export function whole(kept: SentRound): Bundle {
  return {
    rig_facts: [],
    policies_by_class: [],
    announcements: [],
    // None: a server that says nothing of photos takes none.
    photos: { per_card: 0, max_px: 0 },
    ...kept,
    show: { judging_starts_at: "", ...kept.show },
    device: { scribe: "", taken: 0, ...kept.device },
    handbook: { parts: {}, drawings: {}, ...kept.handbook },
    card: wholeCard(kept.card),
    visits: kept.visits.map(wholeVisit),
    questions: kept.questions.map((asked) => ({
      kind: "marks",
      check: "",
      other_entry: null,
      ...asked,
    })),
  };
}

const wholeCard = (card: EarlyCard): Scorecard => ({
  notice: "",
  ...card,
  sections: card.sections.map(wholeSection),
});

function wholeSection(section: EarlySection): Section {
  const form = section.form ?? "points";
  return {
    all_or_nothing: false,
    ...section,
    form,
    criteria: section.criteria.map((row) => ({ parts: [], ...row, form })),
  };
}

function wholeVisit(visit: EarlyVisit): Visit {
  return {
    practice: false,
    scratched: false,
    rig_report: null,
    photos: [],
    ...visit,
    entry: { rig_entered: visit.entry.rig, ...visit.entry },
    card: { hash: "", aside: {}, earlier: [], ...visit.card },
  };
}

/** Brings a kept bundle into the shape this page reads, also one from before an update. */

/** @import {Bundle, Scorecard, Section, Visit} from "./types.js" */

/**
 * Return the bundle with everything in place that an earlier server did not send yet.
 *
 * @param {any} kept
 * @returns {Bundle}
 */
export function whole(kept) {
  return {
    rig_facts: [],
    policies_by_class: [],
    announcements: [],
    ...kept,
    show: { judging_starts_at: "", ...kept.show },
    handbook: { parts: {}, drawings: {}, ...kept.handbook },
    card: wholeCard(kept.card),
    visits: kept.visits.map(wholeVisit),
  };
}

/** @param {any} card @returns {Scorecard} */
const wholeCard = (card) => ({ notice: "", ...card, sections: card.sections.map(wholeSection) });

/** @param {any} section @returns {Section} */
function wholeSection(section) {
  const form = section.form ?? "points";
  return {
    all_or_nothing: false,
    ...section,
    form,
    criteria: section.criteria.map((/** @type {any} */ row) => ({ parts: [], ...row, form })),
  };
}

/** @param {any} visit @returns {Visit} */
function wholeVisit(visit) {
  return {
    practice: false,
    rig_report: null,
    ...visit,
    entry: { rig_entered: visit.entry.rig, ...visit.entry },
    card: { hash: "", aside: {}, earlier: [], ...visit.card },
  };
}

/** The round: what the office asks, which wagon is next, and all wagons in order of time. */

import { missingRows, plannedMinutes, standings } from "./card.ts";
import { drawChanges } from "./changed.ts";
import { drawClock } from "./clock.ts";
import { drawDeclared, isUnread } from "./declared.ts";
import { h } from "./draw.ts";
import { gettext, ngettext, own, ownLanguage } from "./language.ts";
import { drawNext } from "./next_wagon.ts";
import { drawQuestions } from "./questions.ts";
import { keptWords } from "./scratched.ts";
import { drawSpreads } from "./spread_view.ts";
import { opensOffline, takeUpdate, updateWaits } from "./update.ts";
import {
  clock,
  safetyWords,
  sentences,
  spotWords,
  standingWords,
  wagonPieces,
} from "./words.ts";
import type { Standing } from "./card.ts";
import type { Round } from "./round.ts";
import type { Bundle, Wagon } from "./types.ts";

/** A sign before the word, where the style has none. */
const SIGNS: Partial<Record<Standing, string>> = { done: "✓ ", scratched: "✕ " };

export function drawList(round: Round, paint: () => void): HTMLElement[] {
  const { bundle } = round;
  if (!bundle) return [drawEmpty(round)];
  const found = standings(round.wagons);
  const counted = round.wagons.filter(({ practice }) => !practice);
  const gone = counted.filter(({ scratched }) => scratched).length;
  const done = counted.filter(({ entry }) => found.get(entry.id) === "done").length;
  const declared = drawDeclared(round, paint);
  const unread = isUnread(round);
  const kids = [
    drawUpdate(round),
    drawChanges(round, paint),
    ...drawQuestions(round, paint),
    h("h1", { id: "list-title", tabindex: -1 }, gettext("Your round")),
    h("p", { class: "about" }, `${bundle.judge.name} · `, own(bundle.show.name)),
    drawReady(),
    drawClock(round),
    unread ? declared : null,
    drawPractice(
      round.wagons.filter(({ practice }) => practice),
      found,
    ),
    drawNext(round, found),
    drawStay(round),
    h("h2", {}, wagonsWords(done, counted.length - gone, gone)),
    counted.length
      ? null
      : h(
          "p",
          {},
          gettext(
            "No wagons are planned for you yet. They appear here by themselves once the office has drawn the panels.",
          ),
        ),
    h(
      "ol",
      { class: "visits" },
      counted.map((wagon) =>
        drawVisit(
          wagon,
          standingWords(found.get(wagon.entry.id) ?? "later"),
          found,
          bundle.show.zone,
        ),
      ),
    ),
    drawHandbookLink(bundle),
    drawSpreads(round),
    unread ? null : declared,
    drawRules(bundle.show),
  ];
  return kids.filter(Boolean) as HTMLElement[];
}

const wagonsWords = (done: number, all: number, scratched: number) =>
  scratched
    ? gettext("Your wagons: {done} of {all} handed in, {scratched} scratched", {
        done,
        all,
        scratched,
      })
    : gettext("Your wagons: {done} of {all} handed in", { done, all });

/** The wagon on which judges agree their scale stands apart. */
function drawPractice(wagons: Wagon[], found: Map<number, Standing>) {
  if (!wagons.length) return null;
  return h(
    "section",
    { id: "practice" },
    h("h2", {}, gettext("Practice: never counted")),
    h("p", {}, gettext("All judges mark this wagon before the round and talk it over.")),
    h(
      "ul",
      { class: "visits" },
      wagons.map((wagon) => {
        const standing = found.get(wagon.entry.id) ?? "later";
        const words = standing === "later" ? gettext("Practice") : standingWords(standing);
        return drawVisit(wagon, words, found, "");
      }),
    ),
  );
}

function drawHandbookLink({ handbook }: Bundle) {
  const count = Object.keys(handbook.parts).length;
  if (!count) return null;
  return h(
    "a",
    { id: "to-handbook", class: "tohandbook", href: "#handbook" },
    h("strong", {}, gettext("Handbook")),
    ` ${ngettext("{n} part your card looks at", "{n} parts your card looks at", count)}`,
  );
}

function drawEmpty(round: Round) {
  const words = round.noRound || gettext("Fetching your round. This needs a signal once.");
  return h(
    "section",
    {},
    h("h1", {}, gettext("Your round")),
    h("p", { role: "status" }, words),
    h(
      "button",
      { type: "button", class: "big", onclick: () => round.sync.nudge(0) },
      gettext("Try again"),
    ),
  );
}

/** Nothing open and nothing waiting: only then may the page change. */
function drawUpdate(round: Round) {
  if (!updateWaits()) return null;
  const free = !round.waiting.length && !round.unsaved.size;
  return h(
    "aside",
    { class: "note" },
    h(
      "p",
      {},
      free
        ? gettext("A new version of this page is ready.")
        : gettext("A new version of this page is ready. It can be used once everything is sent."),
    ),
    free
      ? h(
          "button",
          { type: "button", id: "update", class: "big", onclick: takeUpdate },
          gettext("Update"),
        )
      : null,
  );
}

/** Whether the page would open with no signal, and with it the round, which lies here by now. */
function drawReady() {
  if (opensOffline()) {
    return h("p", { class: "ready", id: "ready" }, "✓ ", gettext("This page opens without a signal."));
  }
  return h(
    "aside",
    { class: "note", id: "not-ready" },
    h(
      "p",
      {},
      gettext("This page does not open without a signal yet. Stay in reach for a moment."),
    ),
  );
}

function drawStay(round: Round) {
  if (round.stays) return null;
  return h(
    "aside",
    { class: "note", id: "stay" },
    h(
      "p",
      {},
      h("strong", {}, gettext("This phone may clear the page; keep it open or install it.")),
      " ",
      gettext(
        "Your browser's menu has “Add to Home Screen” or “Install”; on an iPhone the installed page starts empty and needs a code of its own. Marks already sent are safe at the office.",
      ),
    ),
  );
}

function drawVisit(wagon: Wagon, words: string, found: Map<number, Standing>, zone: string) {
  const { entry, visits, practice, scratched } = wagon;
  const standing = found.get(entry.id) ?? "later";
  const left = missingRows(wagon).length;
  const times = visits.map((visit) => clock(visit.starts_at, zone)).filter(Boolean);
  const facts = scratched
    ? [gettext("Do not go there"), keptWords(wagon)]
    : [
        standing === "done" ? "" : ngettext("{n} row left", "{n} rows left", left),
        practice ? "" : gettext("{n} min", { n: plannedMinutes(wagon) }),
        entry.spot && spotWords(entry.spot),
      ];
  return h(
    "li",
    {},
    h(
      "a",
      {
        class: `visit ${standing.replace(" ", "-")}`,
        href: `#card=${entry.id}`,
        "data-entry": entry.id,
      },
      h("span", { class: "time" }, times.join(", ") || (practice ? "" : "–")),
      h("span", { class: "name" }, wagonPieces(entry)),
      h("span", { class: "about" }, facts.filter(Boolean).join(" · ")),
      h("span", { class: "standing" }, SIGNS[standing] ?? "", words),
    ),
  );
}

function drawRules(show: { cautions: unknown; policies: unknown }) {
  const lines = (given: unknown) =>
    h(
      "ul",
      { lang: ownLanguage() },
      sentences(given).map((line) => h("li", {}, line)),
    );
  return h(
    "details",
    { id: "rules", class: "rules" },
    h("summary", {}, gettext("Rules and cautions of this show")),
    h("p", { class: "safety" }, safetyWords()),
    h("h3", {}, gettext("Cautions")),
    lines(show.cautions),
    h("h3", {}, gettext("How marks are given")),
    lines(show.policies),
  );
}

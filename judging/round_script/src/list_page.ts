/** The round: what the office asks, which wagon is next, and all wagons in order of time. */

import { missingRows, plannedMinutes, standings } from "./card.ts";
import { drawChanges } from "./changed.ts";
import { drawClock } from "./clock.ts";
import { drawDeclared, isUnread } from "./declared.ts";
import { h } from "./draw.ts";
import { drawQuestions } from "./questions.ts";
import { keptWords } from "./scratched.ts";
import { drawSpreads } from "./spread_view.ts";
import { opensOffline, takeUpdate, updateWaits } from "./update.ts";
import { SAFETY, STANDINGS, clock, sentences, some, wagonWords } from "./words.ts";
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
  const first = (standing: string) => counted.find(({ entry }) => found.get(entry.id) === standing);
  const inWork = first("in work");
  const next = inWork ?? first("next");
  const done = counted.filter(({ entry }) => found.get(entry.id) === "done").length;
  const declared = drawDeclared(round, paint);
  const unread = isUnread(round);
  const kids = [
    drawUpdate(round),
    drawChanges(round, paint),
    ...drawQuestions(round, paint),
    h("h1", { id: "list-title", tabindex: -1 }, "Your round"),
    h("p", { class: "about" }, `${bundle.judge.name} · ${bundle.show.name}`),
    drawClock(round),
    unread ? declared : null,
    drawPractice(
      round.wagons.filter(({ practice }) => practice),
      found,
    ),
    next ? drawNext(next, bundle.show.zone, Boolean(inWork)) : null,
    drawReady(),
    drawStay(round),
    h(
      "h2",
      {},
      `Your wagons: ${done} of ${counted.length - gone} handed in`,
      gone ? `, ${gone} scratched` : "",
    ),
    counted.length
      ? null
      : h(
          "p",
          {},
          "No wagons are planned for you yet. They appear here by themselves once the office has drawn the panels.",
        ),
    h(
      "ol",
      { class: "visits" },
      counted.map((wagon) =>
        drawVisit(wagon, STANDINGS[found.get(wagon.entry.id) ?? "later"], found, bundle.show.zone),
      ),
    ),
    drawHandbookLink(bundle),
    drawSpreads(round),
    unread ? null : declared,
    drawRules(bundle.show),
  ];
  return kids.filter(Boolean) as HTMLElement[];
}

/** The wagon on which judges agree their scale stands apart. */
function drawPractice(wagons: Wagon[], found: Map<number, Standing>) {
  if (!wagons.length) return null;
  return h(
    "section",
    { id: "practice" },
    h("h2", {}, "Practice: never counted"),
    h("p", {}, "All judges mark this wagon before the round and talk it over."),
    h(
      "ul",
      { class: "visits" },
      wagons.map((wagon) => {
        const standing = found.get(wagon.entry.id) ?? "later";
        return drawVisit(wagon, standing === "later" ? "Practice" : STANDINGS[standing], found, "");
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
    h("strong", {}, "Handbook"),
    ` ${some(count, "part")} your card looks at`,
  );
}

function drawEmpty(round: Round) {
  const words = round.noRound || "Fetching your round. This needs a signal once.";
  return h(
    "section",
    {},
    h("h1", {}, "Your round"),
    h("p", { role: "status" }, words),
    h("button", { type: "button", class: "big", onclick: () => round.sync.nudge(0) }, "Try again"),
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
        ? "A new version of this page is ready."
        : "A new version of this page is ready. It can be used once everything is sent.",
    ),
    free
      ? h("button", { type: "button", id: "update", class: "big", onclick: takeUpdate }, "Update")
      : null,
  );
}

/** Whether the page would open with no signal; said only while it would not. */
function drawReady() {
  if (opensOffline()) return null;
  return h(
    "aside",
    { class: "note", id: "not-ready" },
    h("p", {}, "This page does not open without a signal yet. Stay in reach for a moment."),
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
      h("strong", {}, "This phone may clear the page; keep it open or install it."),
      " Your browser's menu has “Add to Home Screen” or “Install”; on an iPhone the installed page",
      " starts empty and needs a code of its own. Marks already sent are safe at the office.",
    ),
  );
}

/** A card begun comes before one not begun. */
function drawNext({ entry, visits, sections }: Wagon, zone: string, begun: boolean) {
  const starts = clock(visits[0]?.starts_at ?? null, zone);
  const kicker = begun ? "Go on with" : "Next";
  return h(
    "a",
    { class: "upnext", href: `#card=${entry.id}` },
    h("span", { class: "kicker" }, starts ? `${kicker}, planned ${starts}` : kicker),
    h("span", { class: "number" }, String(entry.number ?? "–")),
    h("span", { class: "name" }, entry.wagon_name),
    h(
      "span",
      { class: "about" },
      [entry.spot && `spot ${entry.spot}`, entry.rig_words].filter(Boolean).join(" · "),
    ),
    h(
      "span",
      { class: "about" },
      sections.map(({ section }) => `${section.name} ${section.minutes} min`).join(" · "),
    ),
  );
}

function drawVisit(wagon: Wagon, words: string, found: Map<number, Standing>, zone: string) {
  const { entry, visits, practice, scratched } = wagon;
  const standing = found.get(entry.id) ?? "later";
  const left = missingRows(wagon).length;
  const times = visits.map((visit) => clock(visit.starts_at, zone)).filter(Boolean);
  const facts = scratched
    ? ["Do not go there", keptWords(wagon)]
    : [
        standing === "done" ? "" : `${some(left, "row")} left`,
        practice ? "" : `${plannedMinutes(wagon)} min`,
        entry.spot && `spot ${entry.spot}`,
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
      h("span", { class: "name" }, wagonWords(entry)),
      h("span", { class: "about" }, facts.filter(Boolean).join(" · ")),
      h("span", { class: "standing" }, SIGNS[standing] ?? "", words),
    ),
  );
}

function drawRules(show: { cautions: unknown; policies: unknown }) {
  const lines = (given: unknown) =>
    h(
      "ul",
      {},
      sentences(given).map((line) => h("li", {}, line)),
    );
  return h(
    "details",
    { id: "rules", class: "rules" },
    h("summary", {}, "Rules and cautions of this show"),
    h("p", { class: "safety" }, SAFETY),
    h("h3", {}, "Cautions"),
    lines(show.cautions),
    h("h3", {}, "How marks are given"),
    lines(show.policies),
  );
}

/** The pace line: the announced times against what this phone has seen, also without a signal. */

import { standings } from "./card.ts";
import { h } from "./draw.ts";
import { gettext } from "./language.ts";
import { FAR_MINUTES, pace } from "./pace.ts";
import type { Round } from "./round.ts";
import type { Stop } from "./pace.ts";
import type { StoredEvent, Wagon } from "./types.ts";

const TICK_MS = 5_000;

/** Return the moment on the server's clock, as far as this phone knows it. */
export const now = (round: Round) => Date.now() + round.clock_ms;

/** The visits as last worked out, and what they were worked out from: one paint asks often. */
let kept: { from: unknown[]; stops: Stop[] } = { from: [], stops: [] };

/** Return the announced visits as they came about on this phone. */
export function stopsOf(round: Round): Stop[] {
  const { wagons, events, clock_ms, lastOpened, opened } = round;
  const from = [wagons, events, clock_ms, lastOpened, opened, opened.size];
  if (from.length !== kept.from.length || from.some((one, place) => one !== kept.from[place]))
    kept = { from, stops: workedOut(round) };
  return kept.stops;
}

function workedOut(round: Round): Stop[] {
  const opens = Date.parse(round.bundle?.show.judging_starts_at ?? "") || 0;
  const touches = new Map<number | undefined, StoredEvent[]>();
  for (const event of round.events) {
    const about = touches.get(event.body.entry);
    if (about) about.push(event);
    else touches.set(event.body.entry, [event]);
  }
  const stops = round.wagons.flatMap((wagon) =>
    stopOf(round, wagon, touches.get(wagon.entry.id) ?? [], opens),
  );
  const begun = stops.filter((stop) => stop.began_s !== null);
  begun.sort((one, other) => Number(one.began_s) - Number(other.began_s));
  // Who begins at the next wagon has left this one, handed in or not.
  begun.forEach((stop, place) => {
    const next = begun[place + 1];
    if (next) stop.ended_s ??= next.began_s;
  });
  return stops;
}

function stopOf(round: Round, wagon: Wagon, touches: StoredEvent[], opens: number): Stop[] {
  const first = wagon.visits.find((visit) => visit.starts_at && visit.ends_at);
  if (wagon.practice || wagon.scratched || !first) return [];
  const starts_s = Date.parse(first.starts_at ?? "") / 1000;
  const ends_s = Date.parse(first.ends_at ?? "") / 1000;
  const began = beganAt(round, wagon, touches, opens);
  const ended = wagon.card.handed_in ? (handedInAt(round, touches) ?? began ?? opens) : null;
  const seconds = (moment: number | null) => moment && moment / 1000;
  return [
    {
      key: wagon.entry.id,
      starts_s,
      ends_s,
      began_s: seconds(began),
      ended_s: ended === null ? null : ended / 1000,
    },
  ];
}

function beganAt(round: Round, wagon: Wagon, touches: StoredEvent[], opens: number) {
  const entry = wagon.entry.id;
  const own = touches.filter(({ body }) => body.kind !== "open");
  const touched = own.length > 0 || Object.keys(wagon.card.marks).length > 0;
  const opened = round.opened.get(entry);
  const onlySeen = !touched && round.lastOpened !== entry;
  if (opened !== undefined && !onlySeen) {
    const began = opened + round.clock_ms;
    if (touched || began >= opens) return Math.max(began, opens);
  }
  const [first] = own;
  return first ? Math.max(Date.parse(first.body.at) + round.clock_ms, opens) : null;
}

function handedInAt(round: Round, touches: StoredEvent[]) {
  const last = touches.filter(({ body }) => body.kind === "hand_in").at(-1);
  return last ? Date.parse(last.body.at) + round.clock_ms : null;
}

const words = (round: Round) => pace(stopsOf(round), now(round) / 1000).words;

/** The line; it keeps its height, and nobody is told of every minute. */
export function drawClock(round: Round) {
  if (!stopsOf(round).length) return null;
  // Also with nothing to say yet: rows below must not move when it begins to speak.
  return h("p", { class: "clock", "data-clock": "", "aria-live": "off" }, words(round));
}

/** What stays in sight while the page is scrolled: minutes left, and the next wagon. */
export function briefWords(round: Round, entry: number): string {
  const { at, next, left_minutes, wait_minutes } = pace(stopsOf(round), now(round) / 1000);
  const numberOf = (key: unknown) => {
    const found = round.wagon(Number(key));
    return found && found.entry.id !== entry ? found.entry.number : null;
  };
  const [here, after] = [numberOf(at), numberOf(next) ?? numberOf(nextUp(round, entry))];
  const words: string[] = [];
  if (at === entry && left_minutes !== null) words.push(leftWords(left_minutes));
  if (entry === 0 && here !== null)
    words.push(leftAtWords(left_minutes ?? 0, String(here)));
  if (after !== null) words.push(gettext("next No. {number}", { number: String(after) }));
  if (entry === 0 && wait_minutes !== null) words.push(waitWords(wait_minutes));
  return words.filter(Boolean).join(" · ");
}

/** A round looked at on another day has no minutes left. */
function leftWords(left: number) {
  if (Math.abs(left) > FAR_MINUTES) return "";
  if (left > 0) return gettext("{n} min left", { n: left });
  return left ? gettext("{n} min over", { n: -left }) : gettext("time is up");
}

function leftAtWords(left: number, number: string) {
  if (Math.abs(left) > FAR_MINUTES) return gettext("at No. {number}", { number });
  if (left > 0) return gettext("{n} min left at No. {number}", { n: left, number });
  return left
    ? gettext("{n} min over at No. {number}", { n: -left, number })
    : gettext("time is up at No. {number}", { number });
}

/** Hours ahead no minutes are counted. */
const waitWords = (wait: number) =>
  wait > 0 && wait <= FAR_MINUTES ? gettext("in {n} min", { n: wait }) : "";

/** The next wagon where no times are announced. */
function nextUp(round: Round, entry: number): number {
  const others = round.wagons.filter((wagon) => wagon.entry.id !== entry);
  return [...standings(others)].find(([, standing]) => standing === "next")?.[0] ?? 0;
}

/** The brief line of the bar. */
export const drawBrief = (round: Round, entry: number) =>
  h("span", { class: "brief", "data-brief": entry, "aria-live": "off" }, briefWords(round, entry));

/** Keep both lines right between two drawings of the page. */
export function tick(round: Round) {
  setInterval(() => {
    const line = document.querySelector("[data-clock]");
    const said = line ? words(round) : "";
    if (line && said && line.textContent !== said) line.textContent = said;
    const brief = document.querySelector<HTMLElement>("[data-brief]");
    if (brief) brief.textContent = briefWords(round, Number(brief.dataset.brief));
  }, TICK_MS);
}

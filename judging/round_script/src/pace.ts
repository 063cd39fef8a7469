/**
 * The pace clock: how long a judge still has at this wagon, and how far from the announced times.
 * The same rule as `judging/rules/windows/pace.py`; both are held to the same vectors.
 */

import { gettext } from "./language.ts";

const MINUTE_S = 60;
/** Of a visit farther off nothing is said. */
export const FAR_MINUTES = 120;

/** One announced visit; instants are seconds of one clock, null for what has not come about. */
export interface Stop {
  /** The wagon. */
  key: string | number;
  starts_s: number;
  ends_s: number;
  began_s: number | null;
  ended_s: number | null;
}

export interface Pace {
  at: string | number | null;
  next: string | number | null;
  left_minutes: number | null;
  wait_minutes: number | null;
  behind_minutes: number | null;
  words: string;
}

/**
 * Say how a judge stands against the announced times.
 *
 * @param stops in any order
 */
export function pace(stops: Stop[], now_s: number): Pace {
  const open = stops.filter((stop) => stop.ended_s === null);
  const here = open
    .filter((stop) => stop.began_s !== null)
    .reduce(
      (last: Stop | null, stop) =>
        last === null || Number(stop.began_s) > Number(last.began_s) ? stop : last,
      null,
    );
  const ahead = open.filter((stop) => stop.began_s === null);
  ahead.sort((one, other) => one.starts_s - other.starts_s);
  const after = ahead[0] ?? null;
  if (here) return atWagon(here, after, now_s);
  if (after) return onTheWay(after, now_s, open.length < stops.length);
  return {
    at: null,
    next: null,
    left_minutes: null,
    wait_minutes: null,
    behind_minutes: null,
    words: stops.length ? gettext("all wagons seen") : "",
  };
}

function atWagon(here: Stop, after: Stop | null, now_s: number): Pace {
  const began_s = here.began_s ?? 0;
  const length_s = here.ends_s - here.starts_s;
  const left_s = began_s + length_s - now_s;
  const behind = towardsZero(Math.max(began_s + length_s, now_s) - here.ends_s);
  const left = left_s > 0 ? Math.ceil(left_s / MINUTE_S) : 0 - Math.floor(-left_s / MINUTE_S);
  return {
    at: here.key,
    next: after?.key ?? null,
    left_minutes: left,
    wait_minutes: null,
    behind_minutes: behind,
    words: `${leftWords(left)} · ${behindWords(behind)}`,
  };
}

function onTheWay(after: Stop, now_s: number, begun: boolean): Pace {
  const wait_s = after.starts_s - now_s;
  const wait = wait_s > 0 ? Math.ceil(wait_s / MINUTE_S) : 0;
  const behind = towardsZero(Math.max(-wait_s, 0));
  let words = wait ? gettext("next in {n} min", { n: wait }) : gettext("next is due");
  if (wait > FAR_MINUTES) words = "";
  return {
    at: null,
    next: after.key,
    left_minutes: null,
    wait_minutes: wait,
    behind_minutes: begun || behind ? behind : null,
    words: behind ? `${words} · ${behindWords(behind)}` : words,
  };
}

/** Never minus nought, which is no other number. */
const towardsZero = (seconds: number) => Math.trunc(seconds / MINUTE_S) + 0;

function leftWords(left: number) {
  if (left > 0) return gettext("{n} min left here", { n: left });
  return left ? gettext("{n} min over here", { n: -left }) : gettext("time is up here");
}

function behindWords(behind: number) {
  if (behind === 0) return gettext("on time");
  return behind > 0
    ? gettext("{n} min behind", { n: behind })
    : gettext("{n} min ahead", { n: -behind });
}

/** How many photos this phone takes, and how small it makes them. No photo may crowd out a mark. */

import { ngettext } from "./language.ts";
import type { Photo } from "./types.ts";

/** Unsent ones on this phone. */
const MOST_WAITING = 12;
const MOST_BYTES = 6_000_000;
/** What a photo should weigh at most [bytes]. */
export const AIM_BYTES = 400_000;
const QUALITIES = [0.82, 0.7, 0.6, 0.5, 0.4, 0.3];

/**
 * Return a picture's sides so that neither is longer than the most, in the same proportion.
 *
 * @param most [px]
 */
export function fitted(width: number, height: number, most: number): [number, number] {
  const scale = Math.min(1, most / Math.max(width, height));
  const side = (length: number) => Math.max(1, Math.round(length * scale));
  return [side(width), side(height)];
}

/** Lower the quality step by step until the picture weighs little enough; else the last stands. */
export async function smallEnough<Made extends { size: number }>(
  encode: (quality: number) => Promise<Made>,
  aim = AIM_BYTES,
): Promise<Made> {
  let made: Made | undefined;
  for (const quality of QUALITIES) {
    made = await encode(quality);
    if (made.size <= aim) return made;
  }
  return made as Made;
}

/**
 * Say why no further photo can be kept, or "" while one can.
 *
 * @param held photos on this phone
 * @param bytes of the further one
 */
export function reasonAgainst(held: Photo[], bytes: number): string {
  const waiting = held.filter(({ jpeg }) => jpeg);
  const weight = waiting.reduce((sum, { jpeg }) => sum + (jpeg?.byteLength ?? 0), bytes);
  if (waiting.length < MOST_WAITING && weight <= MOST_BYTES) return "";
  return ngettext(
    "{n} photo waits here to be sent. Marks come first: take more once some are sent, or remove one.",
    "{n} photos wait here to be sent. Marks come first: take more once some are sent, or remove one.",
    waiting.length,
  );
}

/** Return the ids of a card's photos, those of this phone and those the office has. */
export function idsOn(entry: number, held: Photo[], office: { id: string }[]): Set<string> {
  const here = held.filter((one) => one.entry === entry);
  return new Set([...office, ...here].map(({ id }) => id));
}

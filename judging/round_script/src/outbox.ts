/** What this phone keeps: pairings, the round's bundle, and every touch, sent or not. */

import { keeper } from "./keeper.ts";
import type { Facts } from "./keeper.ts";
import { SHUT_OUT, UNKNOWN, answered, fresh } from "./restored.ts";
import type {
  CardReceipt,
  DeviceRecord,
  KeptBundle,
  Mark,
  Outcome,
  Owner,
  StoredEvent,
  Touch,
} from "./types.ts";

const WAITING: StoredEvent["status"][] = ["unsent", "stuck"];

/** A time-stamp as the phone claims it; nothing is ordered by it. */
const claimed = () => new Date().toISOString();

/** Make a UUID also where `crypto.randomUUID` is missing (a page without https). */
export function newId(): string {
  if (crypto.randomUUID) return crypto.randomUUID();
  const bytes = crypto.getRandomValues(new Uint8Array(16));
  bytes[6] = ((bytes[6] ?? 0) & 0x0f) | 0x40;
  bytes[8] = ((bytes[8] ?? 0) & 0x3f) | 0x80;
  const hex = [...bytes].map((byte) => byte.toString(16).padStart(2, "0")).join("");
  return hex.replace(/^(.{8})(.{4})(.{4})(.{4})(.{12})$/, "$1-$2-$3-$4-$5");
}

/**
 * Keep a touch with the next number of this pairing, both in one transaction.
 *
 * @param id made once by the caller, so that trying again never keeps it twice
 * @param signed of a hand-in: the marks the judge saw
 * @returns once it is on the disk
 */
export function addEvent(
  device: number,
  id: string,
  touch: Touch,
  signed?: Record<string, Mark>,
): Promise<StoredEvent> {
  return keeper.change(["devices", "events"], async (tx) => {
    const kept = await tx.objectStore("events").get(id);
    if (kept) return kept;
    const owner = await tx.objectStore("devices").get(device);
    if (!owner) throw new Error("This phone has forgotten its pairing.");
    const seq = owner.next_seq;
    const event: StoredEvent = {
      id,
      device,
      seq,
      status: "unsent",
      body: { id, seq, at: claimed(), ...touch },
      code: "",
      reason: "",
      in_bundle: false,
      ...(signed && { signed }),
    };
    await tx.objectStore("events").put(event);
    await tx.objectStore("devices").put({ ...owner, next_seq: seq + 1 });
    return event;
  });
}

const span = (device: number, status: string) =>
  IDBKeyRange.bound([device, status, 0], [device, status, Number.MAX_SAFE_INTEGER]);

/** Return the oldest unsent touches of a pairing, by its count. */
export function unsent(device: number, limit: number): Promise<StoredEvent[]> {
  return keeper.run((db) =>
    db.getAllFromIndex("events", "by_status", span(device, "unsent"), limit),
  );
}

/** Return the touches of a pairing that were set aside, by its count. */
export function stuck(device: number): Promise<StoredEvent[]> {
  return keeper.run((db) => db.getAllFromIndex("events", "by_status", span(device, "stuck")));
}

/** Count the touches of a pairing that the server has not taken. */
export function countWaiting(device: number): Promise<number> {
  return keeper.run(async (db) => {
    const found = await Promise.all(
      WAITING.map((is) => db.getAllFromIndex("events", "by_status", span(device, is))),
    );
    // That a card was opened is no touch to the judge.
    return found.flat().filter(({ body }) => body.kind !== "open").length;
  });
}

const allOf = (device: number) => IDBKeyRange.bound([device, 0], [device, Number.MAX_SAFE_INTEGER]);

/** Return every touch of a pairing, by its count. */
export function eventsOf(device: number): Promise<StoredEvent[]> {
  return keeper.run((db) => db.getAllFromIndex("events", "by_device", allOf(device)));
}

/**
 * Write the server's answer onto the touches it names, and its card hashes beside them.
 *
 * @param cards by entry
 */
export function settle(
  device: number,
  outcomes: Outcome[],
  cards: Record<string, CardReceipt>,
): Promise<void> {
  return keeper.change(["events", "receipts"], async (tx) => {
    const events = tx.objectStore("events");
    for (const outcome of outcomes) {
      const event = await events.get(outcome.id);
      if (event) await events.put(answered(event, outcome, device));
    }
    for (const [entry, receipt] of Object.entries(cards)) {
      await tx.objectStore("receipts").put({ device, entry: Number(entry), ...receipt });
    }
  });
}

/** Change the status of some touches: set one aside, or line it up to be sent again. */
export function lineUp(
  ids: string[],
  status: "unsent" | "stuck",
  code = "",
  reason = "",
): Promise<void> {
  return keeper.change(["events"], async (tx) => {
    const events = tx.objectStore("events");
    for (const id of ids) {
      const event = await events.get(id);
      if (event) await events.put({ ...event, status, code, reason, in_bundle: false });
    }
  });
}

/**
 * Keep a bundle; every touch delivered by now is in it, and its hashes are the newest receipts. A
 * photo it names is at the office, one it no longer names was removed there.
 */
export function keepBundle(device: number, kept: KeptBundle): Promise<void> {
  return keeper.change(["facts", "events", "receipts", "photos"], async (tx) => {
    await tx.objectStore("facts").put(kept, `bundle-${device}`);
    for (const { entry, card } of kept.bundle.visits) {
      const { hash, handed_in } = card;
      const marks = Object.keys(card.marks).length;
      if (!hash) continue;
      await tx.objectStore("receipts").put({ device, entry: entry.id, hash, marks, handed_in });
    }
    const events = tx.objectStore("events");
    for (const status of ["applied", "duplicate"]) {
      for (const event of await events.index("by_status").getAll(span(device, status))) {
        if (!event.in_bundle) await events.put({ ...event, in_bundle: true });
      }
    }
    const named = new Set(
      kept.bundle.visits.flatMap((one) => one.photos ?? []).map(({ id }) => id),
    );
    const photos = tx.objectStore("photos");
    for (const photo of await photos.index("by_device").getAll(device)) {
      if (named.has(photo.id))
        await photos.put({ ...photo, status: "sent", jpeg: null, seen: true });
      else if (photo.seen) await photos.delete(photo.id);
    }
  });
}

export const bundleOf = (device: number) => fact(`bundle-${device}`);

export const receiptsOf = (device: number): Promise<({ entry: number } & CardReceipt)[]> =>
  keeper.run((db) => db.getAll("receipts", allOf(device)));

/** Every pairing this phone has or had. */
export const devices = (): Promise<DeviceRecord[]> => keeper.run((db) => db.getAll("devices"));

export const fact = <Name extends keyof Facts>(name: Name): Promise<Facts[Name] | undefined> =>
  keeper.run((db) => db.get("facts", name) as Promise<Facts[Name] | undefined>);

export const keepFact = <Name extends keyof Facts>(name: Name, value: Facts[Name]): Promise<void> =>
  keeper.change(["facts"], async (tx) => {
    await tx.objectStore("facts").put(value, name);
  });

/**
 * Note that the server no longer takes a pairing; its touches stay. A server that does not know it
 * has none of them, whatever it once said.
 */
export const shutOut = (device: number, code: string): Promise<void> =>
  keeper.change(["devices", "events"], async (tx) => {
    const known = await tx.objectStore("devices").get(device);
    if (known) await tx.objectStore("devices").put({ ...known, shut: code });
    if (code !== UNKNOWN) return;
    const events = tx.objectStore("events");
    for (const event of await events.index("by_device").getAll(allOf(device))) {
      await events.put(fresh(event));
    }
  });

/**
 * Keep a new pairing and make it the one in use. It takes the place of an earlier one of the same
 * judge, on the server too.
 *
 * Touches still waiting there go over to the new one, and photos with them. They keep their ids
 * and numbers, so that one the server has already taken is known again.
 *
 * A server back from an older backup gives a number twice, perhaps to another judge. Here it stays
 * with the pairing that had it first, and the new one gets the next that is free.
 */
export function adoptDevice(given: DeviceRecord): Promise<void> {
  return keeper.change(["devices", "events", "facts", "photos"], async (tx) => {
    const all = tx.objectStore("devices");
    const events = tx.objectStore("events");
    const known = await all.getAll();
    const numbers = known.map(({ id }) => id);
    const id = numbers.includes(given.id) ? Math.max(...numbers) + 1 : given.id;
    const device = { ...given, id };
    let next = device.next_seq;
    for (const old of known) {
      if (old.id === device.id || !sameJudge(old, device)) continue;
      if (!old.shut) await all.put({ ...old, shut: SHUT_OUT });
      next = Math.max(next, old.next_seq);
      const photos = tx.objectStore("photos");
      for (const photo of await photos.index("by_device").getAll(old.id)) {
        const status = photo.jpeg ? "unsent" : photo.status;
        await photos.put({ ...photo, device: device.id, status });
      }
      for (const event of await events.index("by_device").getAll(allOf(old.id))) {
        // What was refused as unknown before this page lined it all up is still to be sent.
        if (!WAITING.includes(event.status) && old.shut !== UNKNOWN) continue;
        await events.put({ ...fresh(event), device: id, moved: true });
      }
    }
    await all.put({ ...device, next_seq: next });
    await tx.objectStore("facts").put(device.id, "active");
  });
}

export const sameJudge = (one: Owner, other: Owner) =>
  one.show.slug === other.show.slug && one.judge.code === other.judge.code;

/** What this phone keeps: pairings, the round's bundle, and every touch, sent or not. */

import { openDB } from "../vendor/idb/index.js";

/** @import {CardReceipt, DeviceRecord, KeptBundle, Outcome, StoredEvent, Touch} from "./types.js" */

const NAME = "showrun-round";
const STRICT = /** @type {const} */ ({ durability: "strict" });
const WAITING = ["unsent", "stuck"];
const REOPEN = ["InvalidStateError", "UnknownError"];

/** A time-stamp as the phone claims it; nothing is ordered by it. */
const claimed = () => new Date().toISOString();

/**
 * Make a UUID also where `crypto.randomUUID` is missing (a page without https).
 *
 * @returns {string}
 */
export function newId() {
  if (crypto.randomUUID) return crypto.randomUUID();
  const bytes = crypto.getRandomValues(new Uint8Array(16));
  bytes[6] = (bytes[6] & 0x0f) | 0x40;
  bytes[8] = (bytes[8] & 0x3f) | 0x80;
  const hex = [...bytes].map((byte) => byte.toString(16).padStart(2, "0")).join("");
  return hex.replace(/^(.{8})(.{4})(.{4})(.{4})(.{12})$/, "$1-$2-$3-$4-$5");
}

/** Opens the database once, and once more when the browser has closed it under the page. */
class Keeper {
  /** @type {Promise<any> | null} */
  #db = null;

  #open() {
    this.#db ??= openDB(NAME, 1, {
      upgrade(/** @type {any} */ db) {
        db.createObjectStore("facts");
        db.createObjectStore("devices", { keyPath: "id" });
        db.createObjectStore("receipts", { keyPath: ["device", "entry"] });
        const events = db.createObjectStore("events", { keyPath: "id" });
        events.createIndex("by_status", ["device", "status", "seq"]);
        events.createIndex("by_device", ["device", "seq"]);
      },
      blocking: () => this.#forget(),
      terminated: () => this.#forget(),
    });
    return this.#db;
  }

  #forget() {
    this.#db?.then((db) => db.close()).catch(() => undefined);
    this.#db = null;
  }

  /**
   * @template T
   * @param {(db: any) => Promise<T>} work must be safe to run twice
   * @returns {Promise<T>}
   */
  async run(work) {
    try {
      return await work(await this.#open());
    } catch (fault) {
      this.#forget();
      if (!(fault instanceof DOMException) || !REOPEN.includes(fault.name)) throw fault;
      return work(await this.#open());
    }
  }

  /**
   * Change the named stores in one transaction that is on the disk when this resolves.
   *
   * @template T
   * @param {string[]} stores
   * @param {(tx: any) => Promise<T>} work
   * @returns {Promise<T>}
   */
  change(stores, work) {
    return this.run(async (db) => {
      const tx = db.transaction(stores, "readwrite", STRICT);
      const done = tx.done.catch((/** @type {unknown} */ fault) => fault ?? new Error("aborted"));
      try {
        const value = await work(tx);
        const fault = await done;
        if (fault) throw fault;
        return value;
      } catch (fault) {
        try {
          tx.abort();
        } catch {
          // It had ended already.
        }
        throw fault;
      }
    });
  }
}

const keeper = new Keeper();

/**
 * Keep a touch with the next number of this pairing, both in one transaction.
 *
 * @param {number} device
 * @param {string} id made once by the caller, so that trying again never keeps it twice
 * @param {Touch} touch
 * @returns {Promise<StoredEvent>} once it is on the disk
 */
export function addEvent(device, id, touch) {
  return keeper.change(["devices", "events"], async (tx) => {
    const kept = await tx.objectStore("events").get(id);
    if (kept) return kept;
    const owner = await tx.objectStore("devices").get(device);
    const seq = owner.next_seq;
    /** @type {StoredEvent} */
    const event = {
      id,
      device,
      seq,
      status: "unsent",
      body: { id, seq, at: claimed(), ...touch },
      code: "",
      reason: "",
      in_bundle: false,
    };
    await tx.objectStore("events").put(event);
    await tx.objectStore("devices").put({ ...owner, next_seq: seq + 1 });
    return event;
  });
}

/** @param {number} device @param {string} status */
const span = (device, status) =>
  IDBKeyRange.bound([device, status, 0], [device, status, Number.MAX_SAFE_INTEGER]);

/**
 * Return the oldest unsent touches of a pairing, by its count.
 *
 * @param {number} device
 * @param {number} limit
 * @returns {Promise<StoredEvent[]>}
 */
export function unsent(device, limit) {
  return keeper.run((db) =>
    db.getAllFromIndex("events", "by_status", span(device, "unsent"), limit),
  );
}

/**
 * Count the touches of a pairing that the server has not taken.
 *
 * @param {number} device
 * @returns {Promise<number>}
 */
export function countWaiting(device) {
  return keeper.run(async (db) => {
    const found = await Promise.all(
      WAITING.map((is) => db.getAllFromIndex("events", "by_status", span(device, is))),
    );
    // That a card was opened is no touch to the judge.
    return found.flat().filter(({ body }) => body.kind !== "open").length;
  });
}

/**
 * Return every touch of a pairing, by its count.
 *
 * @param {number} device
 * @returns {Promise<StoredEvent[]>}
 */
export function eventsOf(device) {
  const all = IDBKeyRange.bound([device, 0], [device, Number.MAX_SAFE_INTEGER]);
  return keeper.run((db) => db.getAllFromIndex("events", "by_device", all));
}

/**
 * Write the server's answer onto the touches it names, and its card hashes beside them.
 *
 * @param {number} device
 * @param {Outcome[]} outcomes
 * @param {Record<string, CardReceipt>} cards by entry
 * @returns {Promise<void>}
 */
export function settle(device, outcomes, cards) {
  return keeper.change(["events", "receipts"], async (tx) => {
    const events = tx.objectStore("events");
    for (const { id, status, code, reason } of outcomes) {
      const event = await events.get(id);
      if (event) await events.put({ ...event, status, code, reason });
    }
    for (const [entry, receipt] of Object.entries(cards)) {
      await tx.objectStore("receipts").put({ device, entry: Number(entry), ...receipt });
    }
  });
}

/**
 * Change the status of some touches: set one aside, or line it up to be sent again.
 *
 * @param {string[]} ids
 * @param {"unsent" | "stuck"} status
 * @param {string} code
 * @param {string} reason
 * @returns {Promise<void>}
 */
export function lineUp(ids, status, code = "", reason = "") {
  return keeper.change(["events"], async (tx) => {
    const events = tx.objectStore("events");
    for (const id of ids) {
      const event = await events.get(id);
      if (event) await events.put({ ...event, status, code, reason, in_bundle: false });
    }
  });
}

/**
 * Keep a bundle; every touch delivered by now is in it, and its hashes are the newest receipts.
 *
 * @param {number} device
 * @param {KeptBundle} kept
 * @returns {Promise<void>}
 */
export function keepBundle(device, kept) {
  return keeper.change(["facts", "events", "receipts"], async (tx) => {
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
  });
}

/** @param {number} device @returns {Promise<KeptBundle | undefined>} */
export const bundleOf = (device) => keeper.run((db) => db.get("facts", `bundle-${device}`));

/** @param {number} device @returns {Promise<({entry: number} & CardReceipt)[]>} */
export const receiptsOf = (device) =>
  keeper.run((db) =>
    db.getAll("receipts", IDBKeyRange.bound([device, 0], [device, Number.MAX_SAFE_INTEGER])),
  );

/** @returns {Promise<DeviceRecord[]>} every pairing this phone has or had */
export const devices = () => keeper.run((db) => db.getAll("devices"));

/** @param {string} name @returns {Promise<any>} */
export const fact = (name) => keeper.run((db) => db.get("facts", name));

/** @param {string} name @param {unknown} value @returns {Promise<void>} */
export const keepFact = (name, value) =>
  keeper.change(["facts"], async (tx) => {
    await tx.objectStore("facts").put(value, name);
  });

/**
 * Note that the server no longer knows a pairing; its touches stay.
 *
 * @param {number} device
 * @param {string} code
 * @returns {Promise<void>}
 */
export const shutOut = (device, code) =>
  keeper.change(["devices"], async (tx) => {
    const known = await tx.objectStore("devices").get(device);
    await tx.objectStore("devices").put({ ...known, shut: code });
  });

/**
 * Keep a new pairing and make it the one in use.
 *
 * Touches still waiting under an earlier pairing of the same judge that the server shut out go
 * over to the new one. They keep their ids and numbers, so that one the server has already
 * taken is known again.
 *
 * @param {DeviceRecord} device
 * @returns {Promise<void>}
 */
export function adoptDevice(device) {
  return keeper.change(["devices", "events", "facts"], async (tx) => {
    const all = tx.objectStore("devices");
    const events = tx.objectStore("events");
    let next = device.next_seq;
    for (const old of await all.getAll()) {
      if (!old.shut || old.id === device.id || !sameJudge(old, device)) continue;
      next = Math.max(next, old.next_seq);
      for (const status of WAITING) {
        for (const event of await events.index("by_status").getAll(span(old.id, status))) {
          await events.put({ ...event, device: device.id, status: "unsent", code: "", reason: "" });
        }
      }
    }
    await all.put({ ...device, next_seq: next });
    await tx.objectStore("facts").put(device.id, "active");
  });
}

/** @param {DeviceRecord} one @param {DeviceRecord} other */
const sameJudge = (one, other) =>
  one.show.slug === other.show.slug && one.judge.code === other.judge.code;

/** The store on this phone: opened once, changed in whole transactions. */

import { openDB } from "idb";
import type { DBSchema, IDBPDatabase, IDBPTransaction, StoreNames } from "idb";
import type { CardReceipt, DeviceRecord, KeptBundle, Photo, StoredEvent } from "./types.ts";

const NAME = "showrun-round";
/** 2: photos. */
const VERSION = 2;
const STRICT: IDBTransactionOptions = { durability: "strict" };
const REOPEN = ["InvalidStateError", "UnknownError"];

/** Single things this phone knows, by name. */
export interface Facts {
  /** The pairing in use. */
  active: number;
  /** When the server was last heard, by this phone's clock. */
  contact: number;
  /** What the server's clock is ahead of this phone's, in milliseconds. */
  clock: number;
  stays: boolean;
  "no-round": string;
  [bundle: `bundle-${number}`]: KeptBundle;
  /** Who the judge said keys, by pairing. */
  [keys: `keys-${number}`]: string;
  /** By how many touches of a pairing the server has more than the phone was answered for. */
  [agreed: `agreed-${number}`]: number | null;
  [opened: `opened-${number}`]: Map<number, number>;
  [read: `read-${string}`]: string;
  [announced: `announced-${string}`]: number;
}

export type Receipt = { device: number; entry: number } & CardReceipt;

interface Kept extends DBSchema {
  facts: { key: string; value: Facts[keyof Facts] };
  devices: { key: number; value: DeviceRecord };
  receipts: { key: [number, number]; value: Receipt };
  events: {
    key: string;
    value: StoredEvent;
    indexes: { by_status: [number, string, number]; by_device: [number, number] };
  };
  photos: { key: string; value: Photo; indexes: { by_device: number } };
}
type Store = StoreNames<Kept>;

/** Opens the database once, and once more when the browser has closed it under the page. */
class Keeper {
  #db: Promise<IDBPDatabase<Kept>> | null = null;

  #open() {
    this.#db ??= openDB<Kept>(NAME, VERSION, {
      upgrade(db, before) {
        if (before < 2) {
          db.createObjectStore("photos", { keyPath: "id" }).createIndex("by_device", "device");
        }
        if (before >= 1) return;
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

  /** @param work must be safe to run twice */
  async run<T>(work: (db: IDBPDatabase<Kept>) => Promise<T>): Promise<T> {
    try {
      return await work(await this.#open());
    } catch (fault) {
      this.#forget();
      if (!(fault instanceof DOMException) || !REOPEN.includes(fault.name)) throw fault;
      return work(await this.#open());
    }
  }

  /** Change the named stores in one transaction that is on the disk when this resolves. */
  change<T, Names extends Store[]>(
    stores: [...Names],
    work: (tx: IDBPTransaction<Kept, Names, "readwrite">) => Promise<T>,
  ): Promise<T> {
    return this.run(async (db) => {
      const tx = db.transaction(stores, "readwrite", STRICT);
      const done = tx.done.catch((fault: unknown) => fault ?? new Error("aborted"));
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

export const keeper = new Keeper();

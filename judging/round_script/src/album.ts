/** The photos of this phone, and sending them: after all marks, one at a time. */

import * as outbox from "./outbox.ts";
import { addPhoto, notePhoto, photosOf, removePhoto } from "./photo_store.ts";
import { ask, refusal } from "./reach.ts";
import type { Reply } from "./reach.ts";
import type { DeviceRecord, Photo } from "./types.ts";

const LOCK = "showrun-round-photos";
const FIRST_WAIT_S = 5;
const LONGEST_WAIT_S = 300;
/** A photo is long for a weak signal. */
const PATIENCE_MS = 90_000;
const TOO_BIG = 413;
const REFUSED = [400, 404, 409, 422];

export class Album {
  photos: Photo[] = [];
  #sending = false;
  #wait_s = FIRST_WAIT_S;
  #not_before = 0;

  /** @param changed called when what is kept has changed */
  constructor(private readonly changed: () => unknown) {
    globalThis.addEventListener?.("online", () => (this.#not_before = 0));
  }

  async load(device: number) {
    this.photos = await photosOf(device);
  }

  /** Photos that are still to be sent. */
  get waiting(): Photo[] {
    return this.photos.filter(({ status }) => status === "unsent");
  }

  /** @returns "" or why it is not kept */
  async add(photo: Photo): Promise<string> {
    const reason = await addPhoto(photo);
    if (!reason) await this.changed();
    return reason;
  }

  /** Take back a photo that the office does not have. */
  async remove(id: string) {
    await removePhoto(id);
    await this.changed();
  }

  /** Line a refused photo up again. */
  async again(id: string) {
    await notePhoto(id, { status: "unsent", reason: "" });
    await this.changed();
  }

  /** Send what waits of these pairings, unless marks do, or the server was silent a moment ago. */
  async send(devices: DeviceRecord[]): Promise<void> {
    if (this.#sending) return;
    this.#sending = true;
    try {
      for (const device of devices) {
        if (Date.now() < this.#not_before) break;
        await alone(() => this.#sendAll(device));
      }
    } catch {
      // The store failed; the photos are where they were.
    } finally {
      this.#sending = false;
    }
  }

  async #sendAll(device: DeviceRecord) {
    for (;;) {
      const [photo] = (await photosOf(device.id)).filter(({ status }) => status === "unsent");
      if (!photo || (await outbox.unsent(device.id, 1)).length) return;
      const went = await this.#sendOne(device, photo);
      await this.changed();
      if (!went) return;
    }
  }

  /** @returns whether the server answered on it */
  async #sendOne(device: DeviceRecord, { id, entry, criterion, jpeg }: Photo): Promise<boolean> {
    const form = new FormData();
    form.set("id", id);
    form.set("entry", String(entry));
    if (criterion) form.set("criterion", criterion);
    form.set("photo", new Blob([jpeg ?? new ArrayBuffer(0)], { type: "image/jpeg" }), "photo.jpg");
    const { token } = device;
    const reply = await ask("/api/v1/device/photos", { token, form, wait_ms: PATIENCE_MS });
    if (reply.reached && (reply.status === 200 || reply.status === 201)) {
      await notePhoto(id, { status: "sent", jpeg: null, reason: "" });
    } else if (reply.reached && isRefused(reply)) {
      await notePhoto(id, {
        status: "refused",
        code: reply.body?.code ?? "",
        reason: reply.body?.detail ?? "",
      });
    } else {
      if (reply.reached && reply.status === 401 && refusal(reply)) {
        await outbox.shutOut(device.id, refusal(reply));
      }
      this.#rest(reply.reached ? reply.retry_after_s : 0);
      return false;
    }
    this.#wait_s = FIRST_WAIT_S;
    return true;
  }

  /** @param asked_s how long the server asked to be left alone */
  #rest(asked_s: number) {
    this.#not_before = Date.now() + Math.max(this.#wait_s, asked_s) * 1000;
    this.#wait_s = Math.min(this.#wait_s * 2, LONGEST_WAIT_S);
  }
}

/** Whether it would be refused again, sent again: then the judge decides. */
const isRefused = (reply: Reply) =>
  reply.status === TOO_BIG || (REFUSED.includes(reply.status) && refusal(reply) !== "");

/** Run the work while no other tab does. */
async function alone(work: () => Promise<void>): Promise<void> {
  if (!navigator.locks) return work();
  return navigator.locks
    .request(LOCK, { ifAvailable: true }, async (lock) => lock && work())
    .then(() => undefined);
}

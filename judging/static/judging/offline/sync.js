/** Sends what waits and fetches what is new, as often as it makes sense and never twice at once. */

import * as outbox from "./outbox.js";
import { ask } from "./reach.js";

/** @import {DeviceRecord, Outcome, StoredEvent} from "./types.js" */

const LOCK = "showrun-round-sync";
const BATCH = 40;
const SAVE_PAUSE_MS = 400;
const FIRST_WAIT_S = 2;
const LONGEST_WAIT_S = 60;
const TOO_BIG_OR_BAD = [400, 413, 422];

/**
 * What one attempt came to: `odd` when a touch did not simply take effect, `wait_s` when the
 * server asked to be left alone.
 *
 * @typedef {{ok: boolean, odd?: boolean, wait_s?: number}} Attempt
 */

export class Sync {
  /** @type {ReturnType<typeof setTimeout> | undefined} */
  #timer;
  #wait_s = FIRST_WAIT_S;
  /** @type {Promise<boolean> | null} */
  #running = null;
  #again = false;
  /** Whether to ask for the round too. Not after each mark: it is long, and signal is dear. */
  #look = true;

  /** @param {() => void} changed called when something kept on the phone has changed */
  constructor(changed) {
    this.changed = changed;
    addEventListener("online", () => this.nudge(0));
    document.addEventListener("visibilitychange", () => {
      if (document.visibilityState === "visible") this.nudge(0);
    });
  }

  /**
   * Try soon; several calls in a row make one attempt.
   *
   * @param {number} [pause_ms] 0 also asks for the round
   */
  nudge(pause_ms = SAVE_PAUSE_MS) {
    if (pause_ms === 0) this.#look = true;
    clearTimeout(this.#timer);
    this.#timer = setTimeout(() => this.#go(), pause_ms);
  }

  /**
   * Make one attempt now, and plan the next. What is asked for during an attempt follows it.
   *
   * @returns {Promise<boolean>} whether the server answered and took everything it was sent
   */
  now() {
    this.#look = true;
    return this.#go();
  }

  #go() {
    clearTimeout(this.#timer);
    this.#again = true;
    this.#running ??= this.#run().finally(() => {
      this.#running = null;
    });
    return this.#running;
  }

  async #run() {
    /** @type {Attempt} */
    let came = { ok: false };
    while (this.#again) {
      this.#again = false;
      const look = this.#look;
      this.#look = false;
      came = await alone(() => attempt(look)).catch(
        // The store failed; the touches are where they were, and the next save says so.
        () => ({ ok: false }),
      );
      this.changed();
    }
    this.#plan(came);
    return came.ok;
  }

  /** @param {Attempt} came */
  #plan(came) {
    if (came.ok) this.#wait_s = FIRST_WAIT_S;
    const asked = Math.min(came.wait_s ?? 0, LONGEST_WAIT_S);
    const wait_s = came.ok ? LONGEST_WAIT_S : Math.max(this.#wait_s, asked);
    if (!came.ok) this.#wait_s = Math.min(this.#wait_s * 2, LONGEST_WAIT_S);
    const spread = 1 - Math.random() / 5;
    clearTimeout(this.#timer);
    this.#timer = setTimeout(() => this.now(), wait_s * spread * 1000);
  }
}

/**
 * Run the work while no other tab does; another tab at work is not a failure.
 *
 * @param {() => Promise<Attempt>} work
 * @returns {Promise<Attempt>}
 */
async function alone(work) {
  if (!navigator.locks) return work();
  return navigator.locks.request(LOCK, { ifAvailable: true }, async (lock) =>
    lock ? work() : { ok: false },
  );
}

/**
 * @param {boolean} look
 * @returns {Promise<Attempt>}
 */
async function attempt(look) {
  /** @type {Attempt} */
  const all = { ok: true };
  const active = await outbox.fact("active");
  for (const device of await outbox.devices()) {
    if (device.shut) continue;
    const sent = await sendAll(device);
    all.ok &&= sent.ok;
    all.wait_s = Math.max(all.wait_s ?? 0, sent.wait_s ?? 0);
    if (!sent.ok || device.id !== active) continue;
    if (!look && !sent.odd && (await outbox.bundleOf(device.id))) continue;
    const fresh = await refresh(device);
    all.ok &&= fresh;
  }
  return all;
}

/**
 * @param {DeviceRecord} device
 * @returns {Promise<Attempt>}
 */
async function sendAll(device) {
  let limit = BATCH;
  let odd = false;
  for (;;) {
    const batch = await outbox.unsent(device.id, limit);
    if (!batch.length) return { ok: true, odd };
    const reply = await send(device, batch);
    if (!reply.reached) return { ok: false };
    if (await contact(device, reply)) return { ok: false };
    if (reply.status === 200 && (await took(device, batch, reply.body))) {
      odd ||= reply.body.results.some((/** @type {Outcome} */ one) => one.status !== "applied");
      limit = Math.min(limit * 2, BATCH);
    } else if (TOO_BIG_OR_BAD.includes(reply.status)) {
      // Never dropped: the one that the server cannot read is set aside and shown.
      if (batch.length === 1) await setAside(batch[0], reply);
      limit = Math.max(1, Math.floor(batch.length / 2));
    } else {
      return { ok: false, wait_s: reply.retry_after_s };
    }
  }
}

/**
 * @param {DeviceRecord} device
 * @param {StoredEvent[]} batch
 */
async function send(device, batch) {
  const left = (await outbox.countWaiting(device.id)) - batch.length;
  return ask("/api/v1/device/events", {
    token: device.token,
    body: {
      unsent: Math.max(left, 0),
      sent_at: new Date().toISOString(),
      events: batch.map((event) => event.body),
    },
  });
}

/**
 * @param {DeviceRecord} device
 * @param {StoredEvent[]} batch
 * @param {any} body
 * @returns {Promise<boolean>} whether the answer speaks of every event sent
 */
async function took(device, batch, body) {
  const known = ["applied", "duplicate", "held"];
  const answered = (Array.isArray(body?.results) ? body.results : []).filter(
    (/** @type {any} */ one) => known.includes(one?.status),
  );
  await noteClock(body?.server_time);
  const ids = new Set(answered.map((/** @type {any} */ one) => one.id));
  await outbox.settle(device.id, answered, body?.cards ?? {});
  return batch.every((event) => ids.has(event.id));
}

/** Note by how much this phone's clock is off, for the pace line. @param {unknown} moment */
async function noteClock(moment) {
  const server_ms = typeof moment === "string" ? Date.parse(moment) : Number.NaN;
  if (!Number.isNaN(server_ms)) await outbox.keepFact("clock", server_ms - Date.now());
}

/**
 * @param {StoredEvent} event
 * @param {import("./reach.js").Reply} reply
 */
function setAside(event, reply) {
  const code = reply.body?.code ?? `status-${reply.status}`;
  const reason = reply.body?.detail ?? "The server could not read this touch.";
  return outbox.lineUp([event.id], "stuck", code, reason);
}

/**
 * Note that the server was heard.
 *
 * @param {DeviceRecord} device
 * @param {import("./reach.js").Reply} reply
 * @returns {Promise<boolean>} whether it no longer knows this pairing
 */
async function contact(device, reply) {
  if (reply.status < 500) await outbox.keepFact("contact", Date.now());
  // A gate of the network in between may answer 401 too, but not in our server's words.
  if (reply.status !== 401 || !reply.body) return false;
  await outbox.shutOut(device.id, reply.body?.code ?? "device-unknown");
  return true;
}

/**
 * Fetch the round again, unless it is the same.
 *
 * @param {DeviceRecord} device
 * @returns {Promise<boolean>}
 */
export async function refresh(device) {
  const kept = await outbox.bundleOf(device.id);
  const reply = await ask("/api/v1/device/round", { token: device.token, etag: kept?.etag ?? "" });
  if (!reply.reached || (await contact(device, reply))) return false;
  if (reply.status === 304 && kept) {
    await outbox.keepBundle(device.id, kept);
    return true;
  }
  if (reply.status !== 200 || !reply.body?.card || !Array.isArray(reply.body.visits)) {
    await outbox.keepFact("no-round", reply.body?.detail ?? "");
    return false;
  }
  await outbox.keepFact("no-round", "");
  await noteClock(reply.body.server_time);
  await outbox.keepBundle(device.id, { etag: reply.etag, bundle: reply.body });
  return true;
}

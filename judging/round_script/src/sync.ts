/** Sends what waits and fetches what is new, as often as it makes sense and never twice at once. */

import { batteryPercent } from "./battery.ts";
import { language } from "./language.ts";
import * as outbox from "./outbox.ts";
import { ask, refusal } from "./reach.ts";
import type { Reply } from "./reach.ts";
import { SHUT_OUT, lineUpLost } from "./restored.ts";
import type { DeviceRecord, Outcome, StoredEvent } from "./types.ts";

const LOCK = "showrun-round-sync";
const BATCH = 40;
const SAVE_PAUSE_MS = 400;
const FIRST_WAIT_S = 2;
const LONGEST_WAIT_S = 60;
const TOO_BIG = 413;
const BAD = [400, 422];

/**
 * What one attempt came to: `odd` when a touch did not simply take effect, `heard` when our server
 * answered even so, `shut` when the office has shut the phone out, `wait_s` when the server asked
 * to be left alone.
 */
export interface Attempt {
  ok: boolean;
  odd?: boolean;
  heard?: boolean;
  shut?: boolean;
  wait_s?: number;
}

export class Sync {
  #timer: ReturnType<typeof setTimeout> | undefined;
  /** Whether the timer is a nudge. One that comes during an attempt is not put off by its plan. */
  #nudged = false;
  #wait_s = FIRST_WAIT_S;
  #running: Promise<boolean> | null = null;
  #again = false;
  /** Whether to ask for the round too. Not after each mark: it is long, and signal is dear. */
  #look = true;

  /** @param changed called when something kept on the phone has changed, and waited for */
  constructor(private readonly changed: () => unknown) {
    addEventListener("online", () => this.nudge(0));
    document.addEventListener("visibilitychange", () => {
      if (document.visibilityState === "visible") this.nudge(0);
    });
  }

  /**
   * Try soon; several calls in a row make one attempt.
   *
   * @param pause_ms 0 also asks for the round
   */
  nudge(pause_ms = SAVE_PAUSE_MS) {
    if (pause_ms === 0) this.#look = true;
    this.#nudged = true;
    clearTimeout(this.#timer);
    this.#timer = setTimeout(() => this.#go(), pause_ms);
  }

  /**
   * Make one attempt now, and plan the next. What is asked for during an attempt follows it.
   *
   * @returns whether the server answered and took everything it was sent
   */
  now(): Promise<boolean> {
    this.#look = true;
    return this.#go();
  }

  #go() {
    clearTimeout(this.#timer);
    this.#nudged = false;
    this.#again = true;
    this.#running ??= this.#run().finally(() => {
      this.#running = null;
    });
    return this.#running;
  }

  async #run() {
    let came: Attempt = { ok: false };
    while (this.#again) {
      this.#again = false;
      const look = this.#look;
      this.#look = false;
      came = await alone(() => attempt(look)).catch(
        // The store failed; the touches are where they were, and the next save says so.
        () => ({ ok: false }),
      );
      // What cannot be read now is read at the next change.
      await Promise.resolve(this.changed()).catch(() => undefined);
    }
    this.#plan(came);
    return came.ok;
  }

  #plan(came: Attempt) {
    if (came.ok) this.#wait_s = FIRST_WAIT_S;
    const asked = Math.min(came.wait_s ?? 0, LONGEST_WAIT_S);
    const wait_s = came.ok ? LONGEST_WAIT_S : Math.max(this.#wait_s, asked);
    if (!came.ok) this.#wait_s = Math.min(this.#wait_s * 2, LONGEST_WAIT_S);
    if (this.#nudged) return;
    const spread = 1 - Math.random() / 5;
    clearTimeout(this.#timer);
    this.#timer = setTimeout(() => this.now(), wait_s * spread * 1000);
  }
}

/** Run the work while no other tab does; another tab at work is not a failure. */
async function alone(work: () => Promise<Attempt>): Promise<Attempt> {
  if (!navigator.locks) return work();
  return navigator.locks.request(LOCK, { ifAvailable: true }, async (lock) =>
    lock ? work() : { ok: false },
  );
}

async function attempt(look: boolean): Promise<Attempt> {
  const all: Attempt = { ok: true };
  const active = await outbox.fact("active");
  let lost = false;
  for (const device of await outbox.devices()) {
    if (device.shut && device.shut !== SHUT_OUT) continue;
    const sent = await sendAll(device, look);
    all.ok &&= sent.ok;
    all.wait_s = Math.max(all.wait_s ?? 0, sent.wait_s ?? 0);
    if (!(sent.ok || sent.heard) || device.shut || sent.shut || device.id !== active) continue;
    if (!look && !sent.odd && (await outbox.bundleOf(device.id))) continue;
    const fresh = await refresh(device);
    all.ok &&= fresh;
    lost ||= fresh && (await lineUpLost(device.id));
  }
  return lost ? attempt(true) : all;
}

/**
 * Send what waits, the oldest first. Touches refused together are sent in halves, and one refused
 * alone is passed over. It is set aside, and shown, only when a later one is then taken: until then
 * what refuses it may refuse everything.
 *
 * @param again whether to try those set aside before, too
 */
async function sendAll(device: DeviceRecord, again: boolean): Promise<Attempt> {
  let limit = BATCH;
  let odd = false;
  let shut = false;
  const refused = new Map<StoredEvent, Reply>();
  while (refused.size < BATCH) {
    const found = await outbox.unsent(device.id, refused.size + limit);
    const passed = new Set([...refused.keys()].map(({ id }) => id));
    const batch = found.filter(({ id }) => !passed.has(id)).slice(0, limit);
    if (!batch.length) break;
    const reply = await send(device, batch);
    if (!reply.reached) return { ok: false };
    if (await contact(device, reply)) return { ok: false };
    if (reply.status === 200 && (await took(device, batch, reply.body))) {
      shut = Boolean(reply.body.shut_out);
      odd ||= reply.body.results.some((one: Outcome) => one.status !== "applied");
      limit = Math.min(limit * 2, BATCH);
      for (const [event, why] of refused) await setAside(event, why);
      refused.clear();
    } else if (isRefused(reply)) {
      const [first] = batch;
      if (first && batch.length === 1) refused.set(first, reply);
      limit = Math.max(1, Math.floor(batch.length / 2));
    } else {
      return { ok: false, wait_s: reply.retry_after_s };
    }
  }
  if (again) odd = (await sendSetAside(device)) || odd;
  return { ok: !refused.size, heard: true, odd, shut };
}

/** Whether it is about what was sent. Another 400 is silence: something on the way gave it. */
const isRefused = (reply: Reply) =>
  reply.status === TOO_BIG || (BAD.includes(reply.status) && refusal(reply) !== "");

/**
 * Try once more, each alone, what was set aside: the server may read it by now.
 *
 * @returns whether any was taken
 */
async function sendSetAside(device: DeviceRecord): Promise<boolean> {
  let some = false;
  for (const event of await outbox.stuck(device.id)) {
    const reply = await send(device, [event]);
    if (!reply.reached || (await contact(device, reply))) break;
    if (reply.status === 200) some = (await took(device, [event], reply.body)) || some;
    else if (!isRefused(reply)) break;
  }
  return some;
}

async function send(device: DeviceRecord, batch: StoredEvent[]) {
  const left = (await outbox.countWaiting(device.id)) - batch.length;
  return ask("/api/v1/device/events", {
    token: device.token,
    body: {
      unsent: Math.max(left, 0),
      battery_percent: batteryPercent(),
      sent_at: new Date().toISOString(),
      events: batch.map((event) => event.body),
    },
  });
}

/** Whether the answer speaks of every event sent. */
async function took(device: DeviceRecord, batch: StoredEvent[], body: any): Promise<boolean> {
  const known = ["applied", "duplicate", "held"];
  const answered = (Array.isArray(body?.results) ? body.results : []).filter((one: any) =>
    known.includes(one?.status),
  );
  await noteClock(body?.server_time);
  const ids = new Set(answered.map((one: any) => one.id));
  await outbox.settle(device.id, answered, body?.cards ?? {});
  if (body?.shut_out) await outbox.shutOut(device.id, SHUT_OUT);
  return batch.every((event) => ids.has(event.id));
}

/** Note by how much this phone's clock is off, for the pace line. */
async function noteClock(moment: unknown) {
  const server_ms = typeof moment === "string" ? Date.parse(moment) : Number.NaN;
  if (!Number.isNaN(server_ms)) await outbox.keepFact("clock", server_ms - Date.now());
}

function setAside(event: StoredEvent, reply: Reply) {
  const code = reply.body?.code ?? `status-${reply.status}`;
  const reason = reply.body?.detail ?? "";
  return outbox.lineUp([event.id], "stuck", code, reason);
}

/**
 * Note that the server was heard.
 *
 * @returns whether it no longer knows this pairing
 */
async function contact(device: DeviceRecord, reply: Reply): Promise<boolean> {
  // A gate of the network in between may answer 400 or 401 too, but not in our server's words.
  const why = refusal(reply);
  if (reply.status < 400 || (reply.status < 500 && why)) {
    await outbox.keepFact("contact", Date.now());
  }
  if (reply.status !== 401 || !why) return false;
  await outbox.shutOut(device.id, why);
  return true;
}

/** Fetch the round again, unless it is the same. */
export async function refresh(device: DeviceRecord): Promise<boolean> {
  const spoken = language();
  const kept = await outbox.bundleOf(device.id);
  // What was kept in another language is not what is asked for.
  const etag = kept && (kept.language ?? "en") === spoken ? kept.etag : "";
  const reply = await ask("/api/v1/device/round", { token: device.token, etag });
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
  await outbox.keepBundle(device.id, {
    etag: reply.etag,
    bundle: reply.body,
    language: spoken,
  });
  return true;
}

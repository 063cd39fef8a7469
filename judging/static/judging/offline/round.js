/** The round as it stands on this phone, and everything a judge can do to it. */

import { whole } from "./bundle.js";
import { overlay } from "./card.js";
import * as outbox from "./outbox.js";
import { Sync } from "./sync.js";

/** @import {Bundle, DeviceRecord, Mark, Rig, StoredEvent, Touch, Wagon} from "./types.js" */

/** A touch that is not on the disk: shown as "Not saved" until it is. */
/** @typedef {{id: string, touch: Touch, fault: string}} Unsaved */

/** A save that takes longer is called not saved, until it is. */
const SLOW_MS = 4_000;

/** @typedef {{entry: number, criterion: string, before: Mark | undefined}} Step */

export class Round extends EventTarget {
  /** @type {DeviceRecord | undefined} */ device;
  /** @type {DeviceRecord[]} */ earlier = [];
  /** @type {Bundle | undefined} */ bundle;
  /** @type {StoredEvent[]} */ events = [];
  /** @type {Wagon[]} */ wagons = [];
  /** @type {Map<number, StoredEvent>} */ answers = new Map();
  /** @type {Map<string, Unsaved>} */ unsaved = new Map();
  /** @type {Map<number, number>} */ waitingElsewhere = new Map();
  /** @type {Map<number, number>} when each card was first opened, by this phone's clock */
  opened = new Map();
  /** @type {Step[]} */ steps = [];
  contact = 0;
  /** What the server's clock is ahead of this phone's. */
  clock_ms = 0;
  /** Number of the last announcement of times that the judge has seen. */
  announced = 1;
  /** What the judge has said to have read of what is declared, word for word. */
  read = "";
  noRound = "";
  stays = true;

  /** @type {Map<string, string>} the last touch about each place */
  #latest = new Map();
  #tabs = "BroadcastChannel" in globalThis ? new BroadcastChannel("showrun-round") : null;

  constructor() {
    super();
    this.sync = new Sync(() => this.#reread());
    if (this.#tabs) this.#tabs.onmessage = () => this.load();
    addEventListener("beforeunload", (leaving) => {
      if (this.unsaved.size) leaving.preventDefault();
    });
  }

  /** Read everything kept, and say that it may have changed. */
  async load() {
    const [active, devices] = await Promise.all([outbox.fact("active"), outbox.devices()]);
    this.device = devices.find((one) => one.id === active);
    this.earlier = devices.filter((one) => one.id !== active);
    this.waitingElsewhere = new Map();
    for (const one of this.earlier) {
      const waiting = await outbox.countWaiting(one.id);
      if (waiting) this.waitingElsewhere.set(one.id, waiting);
    }
    if (this.device) await this.#loadRound(this.device.id);
    this.#project();
  }

  /** @param {number} device */
  async #loadRound(device) {
    const [kept, events, contact, opened, noRound, stays, clock] = await Promise.all([
      outbox.bundleOf(device),
      outbox.eventsOf(device),
      outbox.fact("contact"),
      outbox.fact(`opened-${device}`),
      outbox.fact("no-round"),
      outbox.fact("stays"),
      outbox.fact("clock"),
    ]);
    this.bundle = kept && whole(kept.bundle);
    this.read = this.bundle ? ((await outbox.fact(this.#keyOf("read", this.bundle))) ?? "") : "";
    this.announced =
      (this.bundle && (await outbox.fact(this.#keyOf("announced", this.bundle)))) ?? 1;
    this.clock_ms = clock ?? 0;
    this.events = events;
    this.contact = contact ?? 0;
    this.opened = opened ?? new Map();
    this.noRound = noRound ?? "";
    this.stays = stays ?? true;
  }

  /** @param {string} name @param {Bundle} bundle */
  #keyOf = (name, { show, judge }) => `${name}-${show.slug}-${judge.code}`;

  /** Note that the judge has read what is declared. @param {string} words */
  async noteRead(words) {
    this.read = words;
    try {
      if (this.bundle) await outbox.keepFact(this.#keyOf("read", this.bundle), words);
    } catch {
      // It would be asked again once the page is opened anew.
    }
  }

  /** Note that the judge has seen changed times. @param {number} number */
  async noteAnnounced(number) {
    this.announced = number;
    try {
      if (this.bundle) await outbox.keepFact(this.#keyOf("announced", this.bundle), number);
    } catch {
      // They would be shown again once the page is opened anew.
    }
  }

  async #reread() {
    await this.load();
    this.#tabs?.postMessage("changed");
  }

  #project() {
    const seen = this.bundle ? overlay(this.bundle, this.events) : null;
    this.wagons = seen?.wagons ?? [];
    this.answers = seen?.answers ?? new Map();
    this.dispatchEvent(new Event("change"));
  }

  /** Touches that are only on this phone; that a card was opened is none to the judge. */
  get waiting() {
    const waits = this.events.filter((one) => one.status === "unsent" || one.status === "stuck");
    return waits.filter(({ body }) => body.kind !== "open");
  }

  /** The card this phone opened last, @returns {number | undefined} */
  get lastOpened() {
    return [...this.opened.keys()].at(-1);
  }

  /** Touches the office has, but that did not take effect. */
  get held() {
    return this.events.filter((one) => one.status === "held");
  }

  /** @param {number} entry @returns {Wagon | undefined} */
  wagon(entry) {
    return this.wagons.find((one) => one.entry.id === entry);
  }

  /**
   * Keep a touch. Only when this answers true is it on the disk.
   *
   * @param {Touch} touch
   * @param {string} [id]
   * @returns {Promise<boolean>}
   */
  async touch(touch, id = outbox.newId()) {
    if (!this.device) return false;
    this.#supersede(id, touch);
    const late = setTimeout(() => this.#note(id, touch, "the phone does not answer"), SLOW_MS);
    try {
      const event = await outbox.addEvent(this.device.id, id, touch);
      this.unsaved.delete(id);
      this.events = [...this.events.filter((one) => one.id !== id), event];
    } catch (fault) {
      const name = fault instanceof Error ? fault.name : String(fault);
      this.#note(id, touch, name);
      return false;
    } finally {
      clearTimeout(late);
    }
    this.#project();
    this.#tabs?.postMessage("changed");
    this.sync.nudge();
    return true;
  }

  /** Note that a touch is not on the disk. @param {string} id @param {Touch} touch @param {string} fault */
  #note(id, touch, fault) {
    const about = place(touch);
    if (about && this.#latest.get(about) !== id) return;
    this.unsaved.set(id, { id, touch, fault });
    this.#project();
  }

  /**
   * A later touch of the same place replaces one that could not be kept, or trying again would
   * put the older one on top.
   *
   * @param {string} id
   * @param {Touch} touch
   */
  #supersede(id, touch) {
    const about = place(touch);
    if (!about) return;
    this.unsaved.delete(this.#latest.get(about) ?? "");
    this.#latest.set(about, id);
  }

  /** Try again to keep what could not be kept. @returns {Promise<boolean>} */
  async saveAgain() {
    for (const { id, touch } of [...this.unsaved.values()]) {
      if (!(await this.touch(touch, id))) return false;
    }
    return true;
  }

  /**
   * @param {number} entry
   * @param {string} criterion
   * @param {Mark} mark
   */
  async mark(entry, criterion, mark) {
    const before = this.wagon(entry)?.card.marks[criterion];
    const saved = await this.touch({ kind: "mark", entry, criterion, ...mark });
    if (saved) this.steps.push({ entry, criterion, before });
    return saved;
  }

  /** @param {number} entry @param {string} criterion */
  async clear(entry, criterion) {
    const before = this.wagon(entry)?.card.marks[criterion];
    const saved = await this.touch({ kind: "clear", entry, criterion });
    if (saved) this.steps.push({ entry, criterion, before });
    return saved;
  }

  /**
   * Say that the rig is another than the card has. The card forms anew, so what was marked before
   * is no longer taken back touch by touch.
   *
   * @param {number} entry
   * @param {Rig} rig
   * @param {string} text
   * @param {string} id
   */
  async correctRig(entry, rig, text, id) {
    const saved = await this.touch({ kind: "rig", entry, rig, text }, id);
    if (saved) this.#forgetSteps(entry);
    return saved;
  }

  /** @param {number} entry */
  #forgetSteps(entry) {
    this.steps = this.steps.filter((step) => step.entry !== entry);
  }

  /**
   * Return the touch that Undo would take back; one on a row the office has taken off the card is
   * none.
   *
   * @param {number} entry
   * @returns {Step | undefined}
   */
  lastStep(entry) {
    const last = this.steps.at(-1);
    const rows = this.wagon(entry)?.sections.flatMap((part) => part.rows) ?? [];
    const here = last?.entry === entry && rows.some((row) => row.code === last.criterion);
    return here ? last : undefined;
  }

  /** Take the last touch of this card back. @param {number} entry */
  async undo(entry) {
    const step = this.lastStep(entry);
    if (!step) return null;
    const { criterion, before } = step;
    const saved = before
      ? await this.touch({ kind: "mark", entry, criterion, ...before })
      : await this.touch({ kind: "clear", entry, criterion });
    if (saved) this.steps.pop();
    return saved ? step : null;
  }

  /**
   * @param {number} entry
   * @param {string} section
   * @param {string} text
   */
  remark(entry, section, text) {
    const line = text.replace(/\s+/g, " ").trim();
    if ((this.wagon(entry)?.card.remarks[section] ?? "") === line) return Promise.resolve(true);
    return this.touch({ kind: "remark", entry, section, text: line });
  }

  /** @param {number} entry */
  async handIn(entry) {
    const saved = await this.touch({ kind: "hand_in", entry });
    if (saved) this.#forgetSteps(entry);
    return saved;
  }

  /**
   * Note that a card was opened, for the pace line and the office: once a day, and again when the
   * judge has only looked at it and opened another since. Nobody has to tap for it.
   *
   * @param {number} entry
   */
  async open(entry) {
    const wagon = this.wagon(entry);
    if (!this.device || !wagon || wagon.practice || wagon.card.handed_in) return;
    const before = this.opened.get(entry);
    const touched = Object.keys(wagon.card.marks).length > 0;
    const today = before !== undefined && sameDay(before, Date.now());
    if (today && (touched || this.lastOpened === entry)) return;
    this.opened.delete(entry);
    this.opened.set(entry, Date.now());
    try {
      await outbox.keepFact(`opened-${this.device.id}`, this.opened);
      const event = await outbox.addEvent(this.device.id, outbox.newId(), { kind: "open", entry });
      this.events = [...this.events, event];
      this.#tabs?.postMessage("changed");
      this.sync.nudge();
    } catch {
      // The visit then begins with its first mark.
    }
  }

  /** Line up every touch of this pairing again; the server knows those it has. */
  async sendAllAgain() {
    const ids = this.events.map((one) => one.id);
    await outbox.lineUp(ids, "unsent");
    await this.load();
    return this.sync.now();
  }
}

/** @param {number} one @param {number} other */
const sameDay = (one, other) => new Date(one).toDateString() === new Date(other).toDateString();

/** What a touch is about, where a later one replaces it. @param {Touch} touch */
function place({ kind, entry, criterion, section }) {
  if (kind === "mark" || kind === "clear") return `mark ${entry} ${criterion}`;
  if (kind === "rig") return `rig ${entry}`;
  return kind === "remark" ? `remark ${entry} ${section}` : "";
}

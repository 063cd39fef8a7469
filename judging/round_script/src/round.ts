/** The round as it stands on this phone, and everything a judge can do to it. */

import { whole } from "./bundle.ts";
import { cardHash, overlay } from "./card.ts";
import { Album } from "./album.ts";
import { gettext } from "./language.ts";
import { tidyRemark } from "./remark_words.ts";
import * as outbox from "./outbox.ts";
import { Sync } from "./sync.ts";
import type { Bundle, DeviceRecord, Mark, Rig, StoredEvent, Touch, Wagon } from "./types.ts";

/** A touch that is not on the disk: shown as "Not saved" until it is. */
export interface Unsaved {
  id: string;
  touch: Touch;
  /** Of a hand-in: the marks the judge saw. */
  signed?: Record<string, Mark> | undefined;
  fault: string;
}

/** The server's code for a card signed that is not the card the office has. */
const DIFFERS = "card-differs";

/** A save that takes longer is called not saved, until it is. */
const SLOW_MS = 4_000;

export interface Step {
  entry: number;
  criterion: string;
  before: Mark | undefined;
}

export class Round extends EventTarget {
  device: DeviceRecord | undefined;
  earlier: DeviceRecord[] = [];
  bundle: Bundle | undefined;
  events: StoredEvent[] = [];
  wagons: Wagon[] = [];
  answers: Map<number, StoredEvent> = new Map();
  unsaved: Map<string, Unsaved> = new Map();
  waitingElsewhere: Map<number, number> = new Map();
  /** When each card was first opened, by this phone's clock. */
  opened: Map<number, number> = new Map();
  steps: Step[] = [];
  contact = 0;
  /** What the server's clock is ahead of this phone's. */
  clock_ms = 0;
  /** Number of the last announcement of times that the judge has seen. */
  announced = 1;
  /** What the judge has said to have read of what is declared, word for word. */
  read = "";
  noRound = "";
  stays = true;
  /** Who the judge said keys on this phone; empty: the judge. Undefined: nobody said. */
  keys: string | undefined;

  readonly sync: Sync;
  readonly album = new Album(() => this.#reread());

  /** The last touch about each place. */
  #latest: Map<string, string> = new Map();
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
    // What another judge did before is not this one's to take back.
    if (this.device?.id !== active) this.steps = [];
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

  async #loadRound(device: number) {
    const [kept, events, contact, opened, noRound, stays, clock, keys] = await Promise.all([
      outbox.bundleOf(device),
      outbox.eventsOf(device),
      outbox.fact("contact"),
      outbox.fact(`opened-${device}`),
      outbox.fact("no-round"),
      outbox.fact("stays"),
      outbox.fact("clock"),
      outbox.fact(`keys-${device}`),
      this.album.load(device),
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
    this.keys = keys;
    this.stays = stays ?? true;
  }

  #keyOf = <Name extends string>(name: Name, { show, judge }: Bundle) =>
    `${name}-${show.slug}-${judge.code}` as const;

  /** Who keys for the judge, as was said on this phone or else by the office; empty: the judge. */
  get keyedBy(): string {
    return this.keys ?? this.bundle?.device.scribe ?? "";
  }

  /** Note who keys from now on. */
  async noteKeys(name: string) {
    if (this.device) await outbox.keepFact(`keys-${this.device.id}`, name);
    this.keys = name;
    this.#tabs?.postMessage("changed");
  }

  /** Note that the judge has read what is declared. */
  async noteRead(words: string) {
    this.read = words;
    try {
      if (this.bundle) await outbox.keepFact(this.#keyOf("read", this.bundle), words);
    } catch {
      // It would be asked again once the page is opened anew.
    }
  }

  /** Note that the judge has seen changed times. */
  async noteAnnounced(number: number) {
    this.announced = number;
    try {
      if (this.bundle) await outbox.keepFact(this.#keyOf("announced", this.bundle), number);
    } catch {
      // They would be shown again once the page is opened anew.
    }
  }

  async #reread() {
    await this.load();
    const mine = [this.device, ...this.earlier].filter((one) => one !== undefined);
    this.album.send(mine.filter(({ shut }) => !shut));
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

  /** The card this phone opened last, */
  get lastOpened(): number | undefined {
    return [...this.opened.keys()].at(-1);
  }

  /** Touches the office has, but that did not take effect. */
  get held() {
    return this.events.filter((one) => one.status === "held" && !this.#isDoneWith(one));
  }

  /** A card is open or in by its last hand-in: those before it need nobody any more. */
  #isDoneWith({ body, code }: StoredEvent) {
    if (body.kind !== "hand_in" || !body.entry) return false;
    if (code === DIFFERS || this.wagon(body.entry)?.card.handed_in) return true;
    return this.#lastHandIn(body.entry)?.body.seq !== body.seq;
  }

  #lastHandIn = (entry: number) =>
    this.events
      .filter(({ body }) => body.kind === "hand_in" && body.entry === entry)
      .reduce<StoredEvent | undefined>(
        (last, one) => (one.seq > (last?.seq ?? 0) ? one : last),
        undefined,
      );

  /**
   * Return the card the judge signed where it is not handed in all the same: the office has other
   * marks on it, or has opened it again since.
   */
  signedBefore({ entry, card, scratched }: Wagon): { differs: boolean; marks: Record<string, Mark> } | null {
    const last = this.#lastHandIn(entry.id);
    if (!last || card.handed_in || scratched) return null;
    const differs = last.code === DIFFERS;
    // A hand-in of an earlier version of this page kept no marks: then no row is named.
    return differs || last.in_bundle ? { differs, marks: last.signed ?? card.marks } : null;
  }

  wagon(entry: number): Wagon | undefined {
    return this.wagons.find((one) => one.entry.id === entry);
  }

  /** Keep a touch. Only when this answers true is it on the disk. */
  touch(touch: Touch, id = outbox.newId(), signed?: Record<string, Mark>): Promise<boolean> {
    const { keyedBy } = this;
    return this.#keep({ id, touch: keyedBy ? { ...touch, keyed_by: keyedBy } : touch, signed });
  }

  async #keep({ id, touch, signed }: Omit<Unsaved, "fault">): Promise<boolean> {
    if (!this.device) return false;
    this.#supersede(id, touch);
    const note = (fault: string) => this.#note({ id, touch, signed, fault });
    const late = setTimeout(() => note(gettext("the phone does not answer")), SLOW_MS);
    try {
      const event = await outbox.addEvent(this.device.id, id, touch, signed);
      this.unsaved.delete(id);
      this.events = [...this.events.filter((one) => one.id !== id), event];
    } catch (fault) {
      note(fault instanceof Error ? fault.name : String(fault));
      return false;
    } finally {
      clearTimeout(late);
    }
    this.#project();
    this.#tabs?.postMessage("changed");
    this.sync.nudge();
    return true;
  }

  /** Note that a touch is not on the disk. */
  #note(unsaved: Unsaved) {
    const about = place(unsaved.touch);
    if (about && this.#latest.get(about) !== unsaved.id) return;
    this.unsaved.set(unsaved.id, unsaved);
    this.#project();
  }

  /**
   * A later touch of the same place replaces one that could not be kept, or trying again would
   * put the older one on top.
   */
  #supersede(id: string, touch: Touch) {
    const about = place(touch);
    if (!about) return;
    this.unsaved.delete(this.#latest.get(about) ?? "");
    this.#latest.set(about, id);
  }

  /** Try again to keep what could not be kept. */
  async saveAgain(): Promise<boolean> {
    for (const unsaved of [...this.unsaved.values()]) {
      if (!(await this.#keep(unsaved))) return false;
    }
    return true;
  }

  async mark(entry: number, criterion: string, mark: Mark) {
    const before = this.wagon(entry)?.card.marks[criterion];
    const saved = await this.touch({ kind: "mark", entry, criterion, ...mark });
    if (saved) this.steps.push({ entry, criterion, before });
    return saved;
  }

  async clear(entry: number, criterion: string) {
    const before = this.wagon(entry)?.card.marks[criterion];
    const saved = await this.touch({ kind: "clear", entry, criterion });
    if (saved) this.steps.push({ entry, criterion, before });
    return saved;
  }

  /**
   * Say that the rig is another than the card has. The card forms anew, so what was marked before
   * is no longer taken back touch by touch.
   */
  async correctRig(entry: number, rig: Rig, text: string, id: string) {
    const saved = await this.touch({ kind: "rig", entry, rig, text }, id);
    if (saved) this.#forgetSteps(entry);
    return saved;
  }

  #forgetSteps(entry: number) {
    this.steps = this.steps.filter((step) => step.entry !== entry);
  }

  /**
   * Return the touch that Undo would take back; one on a row the office has taken off the card is
   * none.
   */
  lastStep(entry: number): Step | undefined {
    const last = this.steps.at(-1);
    const rows = this.wagon(entry)?.sections.flatMap((part) => part.rows) ?? [];
    const here = last?.entry === entry && rows.some((row) => row.code === last.criterion);
    return here ? last : undefined;
  }

  /** Take the last touch of this card back. */
  async undo(entry: number) {
    const step = this.lastStep(entry);
    if (!step) return null;
    const { criterion, before } = step;
    const saved = before
      ? await this.touch({ kind: "mark", entry, criterion, ...before })
      : await this.touch({ kind: "clear", entry, criterion });
    if (saved) this.steps.pop();
    return saved ? step : null;
  }

  remark(entry: number, section: string, text: string) {
    const line = tidyRemark(text);
    if ((this.wagon(entry)?.card.remarks[section] ?? "") === line) return Promise.resolve(true);
    return this.touch({ kind: "remark", entry, section, text: line });
  }

  /** Sign the card as it is shown now. */
  async handIn(entry: number) {
    const marks = structuredClone(this.wagon(entry)?.card.marks ?? {});
    const hash = await cardHash(marks);
    const touch: Touch = { kind: "hand_in", entry, ...(hash && { hash }) };
    const saved = await this.touch(touch, outbox.newId(), marks);
    if (saved) this.#forgetSteps(entry);
    return saved;
  }

  /**
   * Note that a card was opened, for the pace line and the office: once a day, and again when the
   * judge has only looked at it and opened another since. Nobody has to tap for it.
   */
  async open(entry: number) {
    const wagon = this.wagon(entry);
    if (!this.device || !wagon || wagon.practice || wagon.scratched) return;
    if (wagon.card.handed_in) return;
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

const sameDay = (one: number, other: number) =>
  new Date(one).toDateString() === new Date(other).toDateString();

/** What a touch is about, where a later one replaces it. */
function place({ kind, entry, criterion, section }: Touch) {
  if (kind === "mark" || kind === "clear") return `mark ${entry} ${criterion}`;
  if (kind === "rig") return `rig ${entry}`;
  return kind === "remark" ? `remark ${entry} ${section}` : "";
}

/** The card of one wagon: where it stands, its rows, and handing it in. */

import { missingRows, plannedMinutes } from "./card.js";
import { drawClock } from "./clock.js";
import { drawConcerns, raiseConcern } from "./concern.js";
import { drawReminder, effectsOf } from "./declared.js";
import { h, say } from "./draw.js";
import { drawHandIn } from "./hand_in.js";
import { openPart, partsOf } from "./handbook.js";
import { drawHeldOf } from "./held.js";
import { drawPlaces, placesOf } from "./places.js";
import { drawRemark } from "./remark.js";
import { drawAside, drawRig } from "./rig.js";
import { drawRow } from "./row.js";
import { clock, markWords, some } from "./words.js";

/** @import {Round} from "./round.js" */
/** @import {Criterion, Mark, Section, Wagon} from "./types.js" */

/** After a row closes the next one's pad comes under the thumb: rest, so no double tap marks it. */
const REST_MS = 350;

export class CardPage {
  /** @type {string} code of the open row */ #open = "";
  #entry = 0;
  /** What a corrected rig has just done to the card. */
  #formed = "";
  #resting = false;

  /** Rows being saved: a second tap meanwhile is the same touch. */
  #saving = new Set();

  /** @param {Round} round @param {() => void} paint @param {() => void} paintSoon */
  constructor(round, paint, paintSoon) {
    this.round = round;
    this.paint = paint;
    this.paintSoon = paintSoon;
  }

  /** @param {Wagon} wagon @returns {HTMLElement[]} */
  draw(wagon) {
    if (this.#entry !== wagon.entry.id) this.#enter(wagon);
    const left = missingRows(wagon).length;
    const kids = [
      drawReminder(this.round),
      this.#drawHead(wagon, left),
      drawConcerns(this.round, wagon),
      drawHeldOf(this.round, wagon),
      this.#drawNotice(),
      ...wagon.sections.map((part) => this.#drawSection(wagon, part)),
      ...drawAside(this.round, wagon),
      drawHandIn(this.round, wagon, {
        paint: this.paint,
        openRow: (code) => this.#openRow(code),
      }),
    ];
    return /** @type {HTMLElement[]} */ (kids.filter(Boolean));
  }

  /** @param {Wagon} wagon */
  #enter(wagon) {
    this.#entry = wagon.entry.id;
    this.#open = wagon.card.handed_in ? "" : (missingRows(wagon)[0]?.code ?? "");
    this.round.open(wagon.entry.id);
  }

  /** Forget the open card, so that it opens anew. */
  leave() {
    this.#entry = 0;
    this.#formed = "";
  }

  /** The card has formed anew for another rig. @param {string} words what that did */
  #form(words) {
    const wagon = this.round.wagon(this.#entry);
    const rows = wagon?.sections.flatMap((part) => part.rows) ?? [];
    if (wagon && !rows.some((row) => row.code === this.#open)) {
      this.#open = missingRows(wagon)[0]?.code ?? "";
    }
    this.#formed = words;
    say(words);
    this.paint();
    document.getElementById("rig-different")?.focus({ preventScroll: true });
  }

  /** @param {Wagon} wagon @param {number} left */
  #drawHead(wagon, left) {
    const { entry, visits, card } = wagon;
    const zone = this.round.bundle?.show.zone ?? "UTC";
    const times = visits
      .filter((visit) => visit.starts_at)
      .map((visit) => `${clock(visit.starts_at, zone)}–${clock(visit.ends_at, zone)}`);
    const facts = [entry.outfit, entry.spot && `spot ${entry.spot}`, ...times].filter(Boolean);
    return h(
      "header",
      { class: entry.number === null ? "wagon unnumbered" : "wagon" },
      entry.number === null
        ? null
        : h(
            "p",
            { class: "number" },
            h("span", { class: "unseen" }, "Number "),
            String(entry.number),
          ),
      h("h1", { id: "wagon-name", tabindex: -1 }, entry.wagon_name),
      wagon.practice ? h("p", { class: "practice" }, "Practice: never counted.") : null,
      h("p", { class: "about" }, facts.join(" · ")),
      drawRig(this.round, wagon, (words) => this.#form(words)),
      this.#formed ? h("p", { class: "formed", id: "formed" }, this.#formed) : null,
      wagon.practice ? null : drawClock(this.round),
      card.handed_in ? this.#drawHandedIn() : this.#drawPace(wagon, left),
      h(
        "button",
        { type: "button", class: "worry", onclick: () => this.#worry(wagon, null) },
        "Safety concern on this wagon",
      ),
    );
  }

  #drawNotice() {
    const notice = this.round.bundle?.card.notice;
    return notice ? h("p", { class: "safety", id: "notice" }, notice) : null;
  }

  #drawHandedIn() {
    return h(
      "p",
      { class: "handed" },
      "✓ Card handed in. Only a question of the office can change a mark now.",
    );
  }

  /** @param {Wagon} wagon @param {number} left */
  #drawPace(wagon, left) {
    const rows = h("strong", { id: "left" }, some(left, "row"));
    // Judges take their time over the practice wagon, and talk.
    if (wagon.practice) return h("p", { class: "pace" }, rows, " left");
    const planned = plannedMinutes(wagon);
    const opened = this.round.opened.get(wagon.entry.id) ?? Date.now();
    const gone = Math.max(0, Math.floor((Date.now() - opened) / 60_000));
    const words = `${gone} of ${some(planned, "minute")} planned`;
    return h(
      "div",
      { class: "pace" },
      h("p", {}, rows, ` left · ${words}`),
      h("progress", { max: planned, value: Math.min(gone, planned), "aria-label": words }),
    );
  }

  /** @param {Wagon} wagon @param {{section: Section, rows: Criterion[]}} part */
  #drawSection(wagon, { section, rows }) {
    const left = rows.filter((row) => !wagon.card.marks[row.code]).length;
    const state = left ? `${left} left` : "✓ all marked";
    return h(
      "section",
      { class: "part", "aria-labelledby": `part-${section.code}` },
      h("h2", { id: `part-${section.code}` }, section.name),
      h("p", { class: "partfacts" }, `${some(section.minutes, "minute")} · ${state}`),
      h(
        "ol",
        { class: "rows" },
        rows.map((row) => this.#drawRow(wagon, section, row)),
      ),
      drawPlaces(this.round.wagons, wagon, section),
      drawRemark(this.round, wagon, section, this.paint),
    );
  }

  /** @param {Wagon} wagon @param {Section} section @param {Criterion} row */
  #drawRow(wagon, section, row) {
    return drawRow({
      row,
      places: placesOf(this.round.wagons, section),
      parts: partsOf(this.round, row),
      effects: effectsOf(this.round, section),
      look: (code) => openPart(this.round, code),
      mark: wagon.card.marks[row.code],
      unsaved: this.#unsaved(wagon, row),
      open: this.#open === row.code,
      locked: wagon.card.handed_in,
      resting: this.#resting,
      toggle: () => {
        this.#open = this.#open === row.code ? "" : row.code;
        this.#inPlace(row.code, () => this.paint());
      },
      give: (mark) => this.#give(wagon, row, mark),
      clear: () => this.#clear(wagon, row),
      worry: () => this.#worry(wagon, row.code),
    });
  }

  /** @param {Wagon} wagon @param {Criterion} row @returns {Mark | null} */
  #unsaved(wagon, row) {
    for (const { touch } of this.round.unsaved.values()) {
      if (touch.kind !== "mark" || touch.entry !== wagon.entry.id) continue;
      if (touch.criterion === row.code) {
        return { state: touch.state ?? "marked", value: touch.value ?? null };
      }
    }
    return null;
  }

  /** @param {Wagon} wagon @param {Criterion} row @param {Mark} mark */
  async #give(wagon, row, mark) {
    const had = wagon.card.marks[row.code];
    const same = had && had.state === mark.state && had.value === mark.value;
    if (this.#saving.has(row.code)) return;
    this.#saving.add(row.code);
    const saved = same || (await this.round.mark(wagon.entry.id, row.code, mark));
    this.#saving.delete(row.code);
    if (!saved) {
      say(`Not saved: ${row.name}.`);
      this.paint();
      document
        .getElementById(`row-${row.code}`)
        ?.scrollIntoView({ block: "center", behavior: "instant" });
      return;
    }
    this.#advance(row, `${row.name}: ${markWords(mark, row)} saved.`);
  }

  /** Close the row and open the next empty one at the same height. @param {Criterion} row @param {string} words */
  #advance(row, words) {
    const wagon = this.round.wagon(this.#entry);
    if (!wagon) return;
    const rows = wagon.sections.flatMap((part) => part.rows);
    const from = rows.findIndex((one) => one.code === row.code);
    const turn = [...rows.slice(from + 1), ...rows.slice(0, from)];
    const next = turn.find((one) => !wagon.card.marks[one.code]);
    this.#open = next?.code ?? "";
    say(next ? `${words} Next: ${next.name}.` : `${words} Every row has a mark.`);
    this.#rest();
    this.#inPlace(row.code, () => this.paint(), next?.code);
    document.getElementById(`row-${next?.code ?? row.code}`)?.focus({ preventScroll: true });
  }

  #rest() {
    this.#resting = true;
    setTimeout(() => {
      this.#resting = false;
      this.paintSoon();
    }, REST_MS);
  }

  /** Redraw so that a row stands where another stood. @param {string} from @param {() => void} draw @param {string} [to] */
  #inPlace(from, draw, to = from) {
    const before = document.getElementById(`row-${from}`)?.getBoundingClientRect().top;
    draw();
    const after = document.getElementById(`row-${to}`)?.getBoundingClientRect().top;
    if (before !== undefined && after !== undefined)
      scrollBy({ top: after - before, behavior: "instant" });
  }

  /** @param {Wagon} wagon @param {Criterion} row */
  async #clear(wagon, row) {
    if (await this.round.clear(wagon.entry.id, row.code)) say(`${row.name}: mark taken back.`);
  }

  /** @param {Wagon} wagon @param {string | null} criterion */
  #worry(wagon, criterion) {
    raiseConcern(this.round, wagon, criterion, this.paint);
  }

  /** The button that takes the last touch back, for the strip at the foot. @returns {HTMLElement | null} */
  drawUndo() {
    const step = this.round.lastStep(this.#entry);
    const rows = this.round.wagon(this.#entry)?.sections.flatMap((part) => part.rows) ?? [];
    const row = rows.find((one) => one.code === step?.criterion);
    if (!step || !row) return null;
    const given = this.round.wagon(this.#entry)?.card.marks[row.code];
    const words = row.form === "points" ? row.name : `${markWords(given, row)}, ${row.name}`;
    return h(
      "button",
      { type: "button", id: "undo", class: "undo", onclick: () => this.#undo(row) },
      "Undo ",
      h("span", { class: "last" }, words),
    );
  }

  /** @param {Criterion} row */
  async #undo(row) {
    const step = await this.round.undo(this.#entry);
    if (!step) return;
    say(`${row.name}: back to ${markWords(step.before, row)}.`);
    this.#openRow(step.criterion);
  }

  /** Open a row and bring it to the middle. @param {string} code */
  #openRow(code) {
    this.#open = code;
    this.paint();
    document
      .getElementById(`row-${code}`)
      ?.scrollIntoView({ block: "center", behavior: "instant" });
    document.getElementById(`row-${code}`)?.focus({ preventScroll: true });
  }
}

/** The card of one wagon: where it stands, its rows, and handing it in. */

import { missingRows, plannedMinutes } from "./card.ts";
import { drawClock } from "./clock.ts";
import { drawConcerns, raiseConcern } from "./concern.ts";
import { drawReminder, effectsOf } from "./declared.ts";
import { h, say } from "./draw.ts";
import { drawHandIn } from "./hand_in.ts";
import { openPart, partsOf } from "./handbook.ts";
import { drawHeldOf, drawSignAgain } from "./held.ts";
import { gettext, ngettext, own, ownLanguage, pieces } from "./language.ts";
import { drawNext } from "./next_wagon.ts";
import { drawCamera, drawPhotos, memoryWords } from "./photos.ts";
import { drawPlaces, placesOf } from "./places.ts";
import { drawRemark } from "./remark.ts";
import { drawAside, drawRig } from "./rig.ts";
import { drawRow } from "./row.ts";
import { drawScratched } from "./scratched.ts";
import { drawWho } from "./scribe.ts";
import { drawSpread } from "./spread_view.ts";
import { clock, markWords, minuteWords, spotWords } from "./words.ts";
import type { Round } from "./round.ts";
import type { Criterion, Mark, Section, Wagon } from "./types.ts";

/** After a row closes the next one's pad comes under the thumb: rest, so no double tap marks it. */
const REST_MS = 350;

export class CardPage {
  /** Code of the open row. */
  #open: string = "";
  #entry = 0;
  /** What a corrected rig has just done to the card. */
  #formed = "";
  #resting = false;

  /** Rows being saved: a second tap meanwhile is the same touch. */
  #saving = new Set<string>();

  constructor(
    private readonly round: Round,
    private readonly paint: () => void,
    private readonly paintSoon: () => void,
  ) {}

  draw(wagon: Wagon): HTMLElement[] {
    if (this.#entry !== wagon.entry.id) this.#enter(wagon);
    const left = missingRows(wagon).length;
    const kids = [
      drawReminder(this.round),
      this.#drawHead(wagon, left),
      drawScratched(this.round, wagon),
      drawConcerns(this.round, wagon),
      drawSignAgain(this.round, wagon),
      drawHeldOf(this.round, wagon),
      this.#drawNotice(),
      ...wagon.sections.map((part) => this.#drawSection(wagon, part)),
      ...drawAside(this.round, wagon),
      drawHandIn(this.round, wagon, {
        paint: this.paint,
        openRow: (code) => this.#openRow(code),
      }),
    ];
    return kids.filter(Boolean) as HTMLElement[];
  }

  #enter(wagon: Wagon) {
    this.#entry = wagon.entry.id;
    this.#open = wagon.card.handed_in ? "" : (missingRows(wagon)[0]?.code ?? "");
    this.round.open(wagon.entry.id);
  }

  /** Forget the open card, so that it opens anew. */
  leave() {
    this.#entry = 0;
    this.#formed = "";
  }

  /**
   * The card has formed anew for another rig.
   *
   * @param words what that did
   */
  #form(words: string) {
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

  #drawHead(wagon: Wagon, left: number) {
    const { entry, visits } = wagon;
    const zone = this.round.bundle?.show.zone ?? "UTC";
    const times = visits
      .filter((visit) => visit.starts_at)
      .map((visit) => `${clock(visit.starts_at, zone)}–${clock(visit.ends_at, zone)}`);
    const facts = [entry.spot && spotWords(entry.spot), ...times];
    return h(
      "header",
      { class: entry.number === null ? "wagon unnumbered" : "wagon" },
      entry.number === null
        ? null
        : h(
            "p",
            { class: "number" },
            h("span", { class: "unseen" }, gettext("Number"), " "),
            String(entry.number),
          ),
      h("h1", { id: "wagon-name", tabindex: -1, lang: ownLanguage() }, entry.wagon_name),
      wagon.practice ? h("p", { class: "practice" }, gettext("Practice: never counted.")) : null,
      h(
        "p",
        { class: "about" },
        own(entry.outfit),
        [entry.outfit && "", ...facts].filter((one) => one !== null).join(" · "),
      ),
      drawWho(this.round),
      drawRig(this.round, wagon, (words) => this.#form(words)),
      this.#formed ? h("p", { class: "formed", id: "formed" }, this.#formed) : null,
      wagon.practice ? null : drawClock(this.round),
      this.#drawState(wagon, left),
      h(
        "div",
        { class: "side" },
        h(
          "button",
          { type: "button", class: "worry", onclick: () => this.#worry(wagon, null) },
          gettext("Safety concern"),
        ),
        wagon.scratched ? null : drawCamera(this.round, wagon, { paint: this.paint }),
      ),
      this.round.bundle?.photos.per_card && !wagon.scratched
        ? h("p", { class: "safety" }, memoryWords())
        : null,
      drawPhotos(this.round, wagon, {}),
    );
  }

  #drawNotice() {
    const notice = this.round.bundle?.card.notice;
    return notice ? h("p", { class: "safety", id: "notice", lang: ownLanguage() }, notice) : null;
  }

  #drawState(wagon: Wagon, left: number) {
    if (wagon.scratched) return null;
    return wagon.card.handed_in ? this.#drawHandedIn() : this.#drawPace(wagon, left);
  }

  #drawHandedIn() {
    const words = gettext("Card handed in. Only a question of the office can change a mark now.");
    return [h("p", { class: "handed" }, "✓ ", words), drawNext(this.round)];
  }

  #drawPace(wagon: Wagon, left: number) {
    const rows = h("strong", { id: "left" }, ngettext("{n} row", "{n} rows", left));
    // Judges take their time over the practice wagon, and talk.
    if (wagon.practice) return h("p", { class: "pace" }, pieces(ngettext("{rows} left", "{rows} left", left), { rows }));
    const planned = plannedMinutes(wagon);
    const opened = this.round.opened.get(wagon.entry.id) ?? Date.now();
    const gone = Math.max(0, Math.floor((Date.now() - opened) / 60_000));
    const words = ngettext(
      "{gone} of {n} minute planned",
      "{gone} of {n} minutes planned",
      planned,
      { gone },
    );
    return h(
      "div",
      { class: "pace" },
      h("p", {}, pieces(ngettext("{rows} left", "{rows} left", left), { rows }), ` · ${words}`),
      h("progress", { max: planned, value: Math.min(gone, planned), "aria-label": words }),
    );
  }

  #drawSection(wagon: Wagon, { section, rows }: { section: Section; rows: Criterion[] }) {
    const left = rows.filter((row) => !wagon.card.marks[row.code]).length;
    const state = left
      ? ngettext("{n} left", "{n} left", left)
      : `✓ ${gettext("all marked")}`;
    return h(
      "section",
      { class: "part", "aria-labelledby": `part-${section.code}` },
      h("h2", { id: `part-${section.code}`, lang: ownLanguage() }, section.name),
      h("p", { class: "partfacts" }, `${minuteWords(section.minutes)} · ${state}`),
      h(
        "ol",
        { class: "rows" },
        rows.map((row) => this.#drawRow(wagon, section, row)),
      ),
      drawPlaces(this.round.wagons, wagon, section),
      drawRemark(this.round, wagon, section, this.paint),
    );
  }

  #drawRow(wagon: Wagon, section: Section, row: Criterion) {
    const about = { criterion: row.code, name: row.name };
    return drawRow({
      row,
      places: placesOf(this.round.wagons, section),
      parts: partsOf(this.round, row),
      effects: effectsOf(this.round, section),
      camera: drawCamera(this.round, wagon, { ...about, paint: this.paint }),
      photos: drawPhotos(this.round, wagon, about),
      spread: this.#open === row.code ? drawSpread(this.round, wagon, row) : null,
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

  #unsaved(wagon: Wagon, row: Criterion): Mark | null {
    for (const { touch } of this.round.unsaved.values()) {
      if (touch.kind !== "mark" || touch.entry !== wagon.entry.id) continue;
      if (touch.criterion === row.code) {
        return { state: touch.state ?? "marked", value: touch.value ?? null };
      }
    }
    return null;
  }

  async #give(wagon: Wagon, row: Criterion, mark: Mark) {
    const had = wagon.card.marks[row.code];
    const same = had && had.state === mark.state && had.value === mark.value;
    if (this.#saving.has(row.code)) return;
    this.#saving.add(row.code);
    const saved = same || (await this.round.mark(wagon.entry.id, row.code, mark));
    this.#saving.delete(row.code);
    if (!saved) {
      say(pieces(gettext("Not saved: {row}."), { row: own(row.name) }));
      this.paint();
      document
        .getElementById(`row-${row.code}`)
        ?.scrollIntoView({ block: "center", behavior: "instant" });
      return;
    }
    this.#advance(
      row,
      pieces(gettext("{row}: {mark} saved."), {
        row: own(row.name),
        mark: markWords(mark, row),
      }),
    );
  }

  /** Close the row and open the next empty one at the same height. */
  #advance(row: Criterion, words: (Node | string)[]) {
    const wagon = this.round.wagon(this.#entry);
    if (!wagon) return;
    const rows = wagon.sections.flatMap((part) => part.rows);
    const from = rows.findIndex((one) => one.code === row.code);
    const turn = [...rows.slice(from + 1), ...rows.slice(0, from)];
    const next = turn.find((one) => !wagon.card.marks[one.code]);
    this.#open = next?.code ?? "";
    const then = next
      ? pieces(gettext("Next: {row}."), { row: own(next.name) })
      : [gettext("Every row has a mark.")];
    say([...words, " ", ...then]);
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

  /** Redraw so that a row stands where another stood. */
  #inPlace(from: string, draw: () => void, to: string = from) {
    const before = document.getElementById(`row-${from}`)?.getBoundingClientRect().top;
    draw();
    const after = document.getElementById(`row-${to}`)?.getBoundingClientRect().top;
    if (before !== undefined && after !== undefined)
      scrollBy({ top: after - before, behavior: "instant" });
  }

  async #clear(wagon: Wagon, row: Criterion) {
    if (await this.round.clear(wagon.entry.id, row.code)) {
      say(pieces(gettext("{row}: mark taken back."), { row: own(row.name) }));
    }
  }

  #worry(wagon: Wagon, criterion: string | null) {
    raiseConcern(this.round, wagon, criterion, this.paint);
  }

  /** The button that takes the last touch back, for the strip at the foot. */
  drawUndo(): HTMLElement | null {
    const step = this.round.lastStep(this.#entry);
    const rows = this.round.wagon(this.#entry)?.sections.flatMap((part) => part.rows) ?? [];
    const row = rows.find((one) => one.code === step?.criterion);
    if (!step || !row) return null;
    const given = this.round.wagon(this.#entry)?.card.marks[row.code];
    const mark = row.form === "points" ? "" : `${markWords(given, row)}, `;
    return h(
      "button",
      { type: "button", id: "undo", class: "undo", onclick: () => this.#undo(row) },
      gettext("Undo"),
      " ",
      h("span", { class: "last" }, mark, own(row.name)),
    );
  }

  async #undo(row: Criterion) {
    const step = await this.round.undo(this.#entry);
    if (!step) return;
    say(
      pieces(gettext("{row}: back to {mark}."), {
        row: own(row.name),
        mark: markWords(step.before, row),
      }),
    );
    this.#openRow(step.criterion);
  }

  /** Open a row and bring it to the middle. */
  #openRow(code: string) {
    this.#open = code;
    this.paint();
    document
      .getElementById(`row-${code}`)
      ?.scrollIntoView({ block: "center", behavior: "instant" });
    document.getElementById(`row-${code}`)?.focus({ preventScroll: true });
  }
}

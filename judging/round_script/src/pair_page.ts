/** Pairing: a code from the office, typed or scanned, makes this phone a judge's. */

import { h } from "./draw.ts";
import { gettext, ngettext, own, pgettext, pieces } from "./language.ts";
import { askToStay, ownerOf, pair, tidyCode } from "./pair.ts";
import * as outbox from "./outbox.ts";
import { sameJudge } from "./outbox.ts";
import { SHUT_OUT } from "./restored.ts";
import { roundWords } from "./words.ts";
import type { Round } from "./round.ts";
import type { DeviceRecord, Owner } from "./types.ts";

export class PairPage {
  code = "";
  label = "";
  fault = "";
  #busy = false;
  /** Whose the code is, while the judge is asked. */
  #theirs: Owner | null = null;

  constructor(
    private readonly round: Round,
    private readonly paint: () => void,
    private readonly done: () => void,
  ) {}

  draw(): HTMLElement[] {
    const { device } = this.round;
    const shut = device?.shut;
    const theirs = this.#theirs;
    const kids = [
      h("h1", { id: "pair-title", tabindex: -1 }, roundWords()),
      shut && !theirs ? this.#drawShut(shut) : null,
      shut || theirs
        ? null
        : h(
            "p",
            {},
            gettext(
              "Pair this phone once with the code from the show office. After that the round works without a signal.",
            ),
          ),
      this.fault ? h("p", { class: "fault", role: "alert", id: "pair-fault" }, this.fault) : null,
      theirs && device ? this.#drawOther(theirs, device) : this.#drawForm(),
      device && !shut && !theirs
        ? h("button", { type: "button", class: "plainly", onclick: this.done }, gettext("Back to the round"))
        : null,
    ];
    return kids.filter(Boolean) as HTMLElement[];
  }

  /** @param shut the server's code for no longer knowing this phone */
  #drawShut(shut: string) {
    const count = this.round.waiting.length;
    const byOffice = shut === SHUT_OUT;
    const kept =
      count && !byOffice
        ? ngettext(
            "{n} touch waits here to be sent once the phone is paired.",
            "{n} touches wait here to be sent once the phone is paired.",
            count,
          )
        : "";
    const again = async () => {
      if (this.round.device) await outbox.shutOut(this.round.device.id, "");
      await this.round.load();
      await this.round.sync.now();
    };
    return h(
      "div",
      { class: "note", id: "again" },
      byOffice
        ? [
            h("p", { class: "loud", role: "alert" }, gettext("The office has shut this phone out")),
            h(
              "p",
              { id: "shut-sent" },
              count
                ? ngettext(
                    "{n} touch waits here; this phone goes on sending. What arrives lies with the office, which decides what counts.",
                    "{n} touches wait here; this phone goes on sending. What arrives lies with the office, which decides what counts.",
                    count,
                  )
                : gettext(
                    "Everything it holds was sent and lies with the office, which decides what counts.",
                  ),
            ),
          ]
        : null,
      h(
        "p",
        {},
        h("strong", {}, gettext("This phone must be paired again; nothing is lost.")),
        kept && ` ${kept}`,
      ),
      byOffice
        ? h("p", {}, gettext("Is it yours? Ask the office for a new code and type it below."))
        : null,
      h(
        "button",
        { type: "button", class: "plainly", onclick: again },
        gettext("Ask the server once more"),
      ),
    );
  }

  /** The code is another judge's: this phone does not change hands unasked. */
  #drawOther(theirs: Owner, ours: DeviceRecord) {
    const { waiting, album, unsaved, sync } = this.round;
    const left = waiting.length + album.waiting.length;
    // A server that does not know this pairing takes nothing under it.
    const goes = !ours.shut || ours.shut === SHUT_OUT;
    const send = async () => {
      await sync.now();
      const some = this.round.waiting.length + this.round.album.waiting.length;
      this.fault = some ? gettext("They could not be sent yet.") : "";
      this.paint();
    };
    const stay = () => {
      this.#theirs = null;
      this.code = "";
      this.fault = "";
      if (ours.shut) this.paint();
      else this.done();
    };
    return h(
      "section",
      { class: "note", id: "other-judge" },
      h("h2", { id: "other-title", tabindex: -1 }, gettext("Another judge’s code")),
      h("p", {}, ownersWords(ours, theirs)),
      left ? h("p", {}, h("strong", {}, this.#waitingWords(ours)), ` ${laterWords(ours, goes)}`) : null,
      h(
        "div",
        { class: "pair" },
        left && goes
          ? h("button", { type: "button", class: "big", onclick: send }, gettext("Send now"))
          : null,
        h(
          "button",
          {
            type: "button",
            id: "pair-other",
            class: left && goes ? "plainly" : "big",
            // What is in memory only would be kept as the other judge's.
            disabled: this.#busy || unsaved.size > 0,
            onclick: () => this.tryCode(true),
          },
          this.#busy
            ? gettext("Pairing…")
            : gettext("Pair with {judge}", { judge: theirs.judge.name }),
        ),
        h(
          "button",
          { type: "button", id: "stay-ours", class: "plainly", onclick: stay },
          ours.shut
            ? gettext("Type another code")
            : gettext("Stay with {judge}", { judge: ours.judge.name }),
        ),
      ),
    );
  }

  #waitingWords({ judge }: Owner) {
    const touches = this.round.waiting.length;
    const photos = this.round.album.waiting.length;
    return [
      touches
        ? ngettext(
            "{n} touch of {judge} is not sent yet.",
            "{n} touches of {judge} are not sent yet.",
            touches,
            { judge: judge.name },
          )
        : "",
      photos
        ? ngettext(
            "{n} photo of {judge} is not sent yet.",
            "{n} photos of {judge} are not sent yet.",
            photos,
            { judge: judge.name },
          )
        : "",
    ]
      .filter(Boolean)
      .join(" ");
  }

  #drawForm() {
    const code = h("input", {
      type: "text",
      id: "pair-code",
      autocomplete: "off",
      autocapitalize: "characters",
      spellcheck: "false",
      inputmode: "text",
      maxlength: 12,
      placeholder: "ABCD-3467",
      oninput: () => {
        this.code = tidyCode(code.value);
      },
      onchange: () => {
        code.value = this.code;
      },
    }) as HTMLInputElement;
    code.value = this.code;
    const label = h("input", {
      type: "text",
      id: "pair-label",
      maxlength: 80,
      autocomplete: "off",
      oninput: () => {
        this.label = label.value;
      },
    }) as HTMLInputElement;
    label.value = this.label;
    const submit = (event: Event) => {
      event.preventDefault();
      this.tryCode();
    };
    return h(
      "form",
      { class: "pairing", onsubmit: submit },
      h("label", { for: "pair-code" }, pgettext("for pairing", "Code")),
      code,
      h("label", { for: "pair-label" }, gettext("A name for this phone (you may leave this empty)")),
      label,
      h(
        "button",
        { type: "submit", class: "big", disabled: this.#busy },
        this.#busy ? gettext("Pairing…") : gettext("Pair this phone"),
      ),
    );
  }

  /**
   * Pair with the code as it stands; where it is another judge's, ask first.
   *
   * @param sure the judge was asked
   */
  async tryCode(sure = false): Promise<void> {
    if (this.#busy) return;
    this.fault = this.code.length < 9 ? gettext("A code has eight letters and digits.") : "";
    if (this.fault) {
      this.paint();
      return;
    }
    this.#busy = true;
    this.paint();
    const ready = sure || (await this.#isForUs());
    this.fault = ready ? await pair(this.code, this.label).catch(notKept) : this.fault;
    this.#busy = false;
    if (ready && !this.fault) await this.#paired();
    this.paint();
    if (this.#theirs) document.getElementById("other-title")?.focus();
  }

  /** Whether the code makes this phone the judge's whose it is, or anybody's while it is nobody's. */
  async #isForUs(): Promise<boolean> {
    const { device } = this.round;
    this.#theirs = null;
    if (!device) return true;
    const { owner, words } = await ownerOf(this.code);
    this.fault = words;
    if (owner && !sameJudge(owner, device)) this.#theirs = owner;
    return Boolean(owner) && !this.#theirs;
  }

  async #paired() {
    this.code = "";
    this.#theirs = null;
    // Not waited for: some browsers ask the person, who may take their time.
    askToStay()
      .then((stays) => outbox.keepFact("stays", stays))
      .then(() => this.round.load())
      .catch(() => undefined);
    await this.round.load();
    await this.round.sync.now();
    this.done();
  }
}

const laterWords = ({ judge }: Owner, goes: boolean) =>
  goes
    ? gettext("Send all first if you can; what is left stays kept here and is sent later.")
    : gettext("They stay kept here until this phone is paired with {judge} again.", {
        judge: judge.name,
      });

/** @returns whose this phone is and whose the code is, with their shows where those differ */
function ownersWords(ours: Owner, theirs: Owner) {
  const judges = { judge: h("strong", {}, ours.judge.name), other: h("strong", {}, theirs.judge.name) };
  return ours.show.slug === theirs.show.slug
    ? pieces(gettext("This phone is paired with {judge}. The code is for {other}."), judges)
    : pieces(
        gettext("This phone is paired with {judge}, {show}. The code is for {other}, {other_show}."),
        { ...judges, show: own(ours.show.name), other_show: own(theirs.show.name) },
      );
}

const notKept = () =>
  gettext(
    "This browser could not keep the pairing. Leave private browsing, free some space, or use another phone; then ask for a new code.",
  );

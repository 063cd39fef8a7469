/** Pairing: a code from the office, typed or scanned, makes this phone a judge's. */

import { h } from "./draw.ts";
import { gettext, ngettext, pgettext } from "./language.ts";
import { askToStay, pair, tidyCode } from "./pair.ts";
import * as outbox from "./outbox.ts";
import { SHUT_OUT } from "./restored.ts";
import { roundWords } from "./words.ts";
import type { Round } from "./round.ts";

export class PairPage {
  code = "";
  label = "";
  fault = "";
  #busy = false;
  #keep = false;

  constructor(
    private readonly round: Round,
    private readonly paint: () => void,
    private readonly done: () => void,
  ) {}

  draw(): HTMLElement[] {
    const { device, waiting } = this.round;
    const shut = device?.shut;
    const asks = device && !shut && waiting.length && !this.#keep;
    const kids = [
      h("h1", { id: "pair-title", tabindex: -1 }, roundWords()),
      shut
        ? this.#drawShut(shut)
        : h(
            "p",
            {},
            gettext(
              "Pair this phone once with the code from the show office. After that the round works without a signal.",
            ),
          ),
      this.fault ? h("p", { class: "fault", role: "alert", id: "pair-fault" }, this.fault) : null,
      asks ? this.#drawWaiting() : this.#drawForm(),
      device && !shut
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

  #drawWaiting() {
    const { device, waiting } = this.round;
    const send = async () => {
      await this.round.sync.now();
      this.fault = this.round.waiting.length ? gettext("They could not be sent yet.") : "";
      this.paint();
    };
    return h(
      "div",
      { class: "note", id: "waiting-first" },
      h(
        "p",
        {},
        h(
          "strong",
          {},
          ngettext(
            "{n} touch of {judge} is not sent yet.",
            "{n} touches of {judge} are not sent yet.",
            waiting.length,
            { judge: device?.judge.name ?? "" },
          ),
        ),
        ` ${gettext("Send them before this phone is paired with another code.")}`,
      ),
      h(
        "div",
        { class: "pair" },
        h("button", { type: "button", class: "big", onclick: send }, gettext("Send them now")),
        h(
          "button",
          {
            type: "button",
            class: "plainly",
            onclick: () => {
              this.#keep = true;
              this.paint();
            },
          },
          gettext("Pair anyway; they stay kept here"),
        ),
      ),
    );
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

  /** Pair with the code as it stands. */
  async tryCode(): Promise<void> {
    const { device, waiting } = this.round;
    if (this.#busy || (device && !device.shut && waiting.length && !this.#keep)) {
      this.paint();
      return;
    }
    if (this.code.length < 9) {
      this.fault = gettext("A code has eight letters and digits.");
      this.paint();
      return;
    }
    this.#busy = true;
    this.fault = "";
    this.paint();
    const came = await pair(this.code, this.label).catch(() => ({
      paired: false,
      code: "not-kept",
      words: gettext(
        "This browser could not keep the pairing. Leave private browsing, free some space, or use another phone; then ask for a new code.",
      ),
    }));
    this.#busy = false;
    if (came.paired) await this.#paired();
    else this.fault = came.words;
    this.paint();
  }

  async #paired() {
    this.code = "";
    this.#keep = false;
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

/** Raises a safety concern: apart from the score, and never in the way of a voice. */

import { h, say } from "./draw.ts";
import { gettext, own, ownLanguage, pieces } from "./language.ts";
import { newId } from "./outbox.ts";
import { reasonWords } from "./reasons.ts";
import { openSheet } from "./sheet.ts";
import { degrees, safetyWords, wagonPieces } from "./words.ts";
import type { Round } from "./round.ts";
import type { StoredEvent, Wagon } from "./types.ts";

const LONGEST = 300;

/** Open the dialog for a wagon, or for one row of it. */
export function raiseConcern(
  round: Round,
  wagon: Wagon,
  criterion: string | null,
  paint: () => void,
) {
  const id = newId();
  const rows = wagon.sections.flatMap((part) => part.rows);
  const where = h(
    "select",
    { id: "concern-where" },
    h("option", { value: "" }, gettext("The wagon as a whole")),
    rows.map((row) => h("option", { value: row.code, lang: ownLanguage() }, row.name)),
  ) as HTMLSelectElement;
  where.value = criterion ?? "";
  const text = h("textarea", {
    id: "concern-text",
    rows: 3,
    maxlength: LONGEST,
  }) as HTMLTextAreaElement;
  const fault = h("p", { class: "fault", role: "alert" });
  let degree: "stop" | "mend" | "note" | undefined;
  const raise = async (close: () => void) => {
    if (!degree) {
      fault.textContent = gettext("Choose how grave it is.");
      return;
    }
    const line = text.value.replace(/\s+/g, " ").trim();
    const entry = wagon.entry.id;
    const saved = await round.touch(
      { kind: "concern", entry, criterion: where.value || null, degree, text: line },
      id,
    );
    if (!saved) {
      fault.textContent = gettext("Not saved. Tell the steward by voice, then try again.");
      return;
    }
    round.sync.nudge(0);
    close();
    say(gettext("Safety concern saved. Tell a steward by voice now."));
    paint();
  };
  openSheet({
    id: "concern-title",
    title: pieces(gettext("Safety concern: {wagon}"), {
      wagon: h("span", {}, wagonPieces(wagon.entry)),
    }),
    draw: (close) => [
      h(
        "p",
        { class: "voice" },
        gettext("Tell a steward by voice now: there may be no signal."),
      ),
      h(
        "p",
        { class: "safety" },
        safetyWords(),
        " ",
        gettext(
          "A concern is no finding of a veterinarian or an engineer, and without one nobody has cleared the wagon.",
        ),
      ),
      h(
        "fieldset",
        {},
        h("legend", {}, gettext("How grave is it?")),
        degrees().map((one) => drawDegree(one, () => (degree = one[0]))),
      ),
      h("label", { for: "concern-where" }, gettext("Where")),
      where,
      h("label", { for: "concern-text" }, gettext("What you saw")),
      text,
      fault,
      h(
        "div",
        { class: "pair" },
        h(
          "button",
          { type: "button", class: "big stop", onclick: () => raise(close) },
          gettext("Raise concern"),
        ),
        h("button", { type: "button", class: "plainly", onclick: close }, gettext("Cancel")),
      ),
    ],
  });
}

function drawDegree([value, words, more]: [string, string, string], choose: () => void) {
  return h(
    "label",
    { class: "degree" },
    h("input", { type: "radio", name: "degree", value, onchange: choose }),
    h("span", {}, h("strong", {}, words), " ", more),
  );
}

/** List the concerns raised from this phone, and whether the office has them. */
export function drawConcerns(round: Round, wagon: Wagon): HTMLElement | null {
  const raised = round.events.filter((event) => wagon.concerns.includes(event.id));
  if (!raised.length) return null;
  return h(
    "section",
    { class: "concerns" },
    h("h2", {}, gettext("Safety concerns you raised")),
    h(
      "ul",
      {},
      raised.map((event) => drawConcern(wagon, event)),
    ),
  );
}

function drawConcern(wagon: Wagon, { status, body, code, reason }: StoredEvent) {
  const words = degrees().find(([degree]) => degree === (body.degree ?? "note"))?.[1] ?? "";
  const row = wagon.sections
    .flatMap((part) => part.rows)
    .find((one) => one.code === body.criterion);
  const there =
    status === "unsent" || status === "stuck"
      ? gettext("Not at the office yet: tell the steward by voice.")
      : status === "held"
        ? gettext("Kept by the office: {reason}", { reason: reasonWords(code, reason) })
        : gettext("At the office. Tell the steward as well.");
  return h(
    "li",
    { class: `concern ${body.degree}` },
    h("strong", {}, words),
    row ? [", ", own(row.name)] : "",
    body.text ? `: ${body.text}` : "",
    h("br"),
    there,
  );
}

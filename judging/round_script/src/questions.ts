/**
 * Questions of the office: about a mark, a card, two cards or the day. The judge says it is right,
 * puts it right, or cannot recall; each is kept.
 */

import { h, say } from "./draw.ts";
import { drawKeys } from "./keys.ts";
import { gettext, ngettext, own, pieces } from "./language.ts";
import { placesOf } from "./places.ts";
import { reasonWords } from "./reasons.ts";
import { valueWords, wagonPieces } from "./words.ts";
import type { Round } from "./round.ts";
import type { Criterion, Question, Touch, Verdict } from "./types.ts";

/** The question waits for the judge, also while the office weighs a correction it typed itself. */
const WAITING = ["open", "proposed"];

interface Answers {
  confirm: string;
  /** Read back. */
  said: string;
  correct: string;
  corrected: string;
}

/** What a kind of question is answered by. */
function answersTo({ kind }: Question): Answers {
  switch (kind) {
    case "marks":
      return {
        confirm: gettext("The mark is right"),
        said: gettext("You said: the mark is right."),
        correct: gettext("Correct it"),
        corrected: "",
      };
    case "cards":
      return {
        confirm: gettext("The card is right"),
        said: gettext("You said: the card is right."),
        correct: gettext("Open the card again"),
        corrected: gettext("You asked to open the card again."),
      };
    case "swaps":
      return {
        confirm: gettext("Both cards are right"),
        said: gettext("You said: both cards are right."),
        correct: gettext("Open both cards again"),
        corrected: gettext("You asked to open both cards again."),
      };
    // A habit of the day is told; there is nothing to put right. A kind this page does not know
    // yet is told and seen, too.
    default:
      return {
        confirm: gettext("I have seen it"),
        said: gettext("You said: seen."),
        correct: "",
        corrected: "",
      };
  }
}

/** What is being written, by question, so that a redraw loses nothing. */
const reasons = new Map() as Map<number, string>;
/** The question whose number pad is open. */
let correcting: number = 0;

export function drawQuestions(round: Round, paint: () => void): HTMLElement[] {
  const open = (round.bundle?.questions ?? []).filter(({ state }) => WAITING.includes(state));
  if (!open.length) return [];
  return [
    h(
      "section",
      { class: "asks", "aria-labelledby": "asks-title" },
      h(
        "h2",
        { id: "asks-title" },
        open.length === 1
          ? gettext("The office asks")
          : ngettext(
              "The office asks {n} question",
              "The office asks {n} questions",
              open.length,
            ),
      ),
      open.map((question) => drawQuestion(round, question, paint)),
    ),
  ];
}

function drawQuestion(round: Round, question: Question, paint: () => void) {
  const answer = round.answers.get(question.id);
  const kids = answer
    ? [drawAnswered(question, answer.body, answer.status, rowOf(round, question))]
    : drawChoice(round, question, paint);
  const held = round.held.find(
    (one) => one.body.kind === "answer" && one.body.question === question.id,
  );
  return h(
    "article",
    { class: "ask", "data-question": question.id, "data-kind": question.kind },
    h("p", { class: "sentence" }, question.sentence),
    drawCardLinks(round, question),
    held && !answer
      ? h(
          "p",
          { class: "fault" },
          gettext("Your answer is with the office: {reason}", {
            reason: reasonWords(held.code, held.reason),
          }),
        )
      : null,
    kids,
  );
}

/** The way to the cards that are asked about, to look at them first. */
function drawCardLinks(round: Round, { entry, other_entry, kind }: Question) {
  const asked = [entry, other_entry].flatMap((id) => (id && round.wagon(id)) || []);
  if (kind === "day" || !asked.length) return null;
  return h(
    "p",
    { class: "tocards" },
    asked.map((wagon) =>
      h(
        "a",
        { href: `#card=${wagon.entry.id}` },
        pieces(gettext("Look at the card of {wagon}"), {
          wagon: h("span", {}, wagonPieces(wagon.entry)),
        }),
      ),
    ),
  );
}

function drawAnswered(question: Question, body: Touch, status: string, row: Criterion | undefined) {
  const { said: confirmed, corrected } = answersTo(question);
  const put =
    corrected ||
    gettext("You corrected it to {mark}.", { mark: valueWords(body.value ?? "", row) });
  const said: Record<Verdict, string> = {
    confirm: confirmed,
    correct: put,
    unsure: gettext("You said: I cannot recall."),
  };
  const there =
    status === "unsent" || status === "stuck"
      ? gettext("Saved, waits to be sent.")
      : gettext("The office has it.");
  return h("p", { class: "answered" }, "✓ ", said[body.verdict ?? "unsure"], " ", there);
}

function drawChoice(round: Round, question: Question, paint: () => void) {
  const row = rowOf(round, question);
  const id = `reason-${question.id}`;
  const field = h("input", {
    type: "text",
    id,
    maxlength: 300,
    oninput: () => reasons.set(question.id, field.value),
  }) as HTMLInputElement;
  field.value = reasons.get(question.id) ?? "";
  const answer = async (verdict: Verdict, value: string | null) => {
    const text = field.value.replace(/\s+/g, " ").trim();
    if (!(await round.touch({ kind: "answer", question: question.id, verdict, value, text })))
      return;
    correcting = 0;
    reasons.delete(question.id);
    round.sync.nudge(0);
    say(gettext("Answer saved."));
    paint();
  };
  const toggle = () => {
    correcting = correcting === question.id ? 0 : question.id;
    paint();
  };
  const { confirm, correct } = answersTo(question);
  const choice = (verdict: Verdict, kind: string, words: string) =>
    h("button", { type: "button", class: kind, onclick: () => answer(verdict, null) }, words);
  const expands = { "aria-expanded": correcting === question.id, onclick: toggle };
  return [
    h(
      "label",
      { for: id },
      question.kind === "day"
        ? gettext("A remark (you may leave this empty)")
        : gettext("Why (you may leave this empty)"),
    ),
    field,
    h(
      "div",
      { class: "pair" },
      choice("confirm", "big", confirm),
      question.kind === "marks"
        ? h("button", { type: "button", class: "big quiet", ...expands }, correct)
        : correct && choice("correct", "big quiet", correct),
      choice("unsure", "plainly", gettext("I cannot recall")),
    ),
    correcting === question.id && row
      ? drawCorrection(round, row, (value) => answer("correct", value))
      : null,
  ];
}

function drawCorrection(round: Round, row: Criterion, choose: (value: string) => void) {
  const section = round.bundle?.card.sections.find((part) => part.criteria.includes(row));
  const places = section ? placesOf(round.wagons, section) : [];
  return h(
    "div",
    {},
    h("p", {}, pieces(gettext("The mark for {row} should be:"), { row: own(row.name) })),
    drawKeys({ row, places, choose }),
  );
}

const rowOf = (round: Round, question: Question): Criterion | undefined =>
  round.bundle?.card.sections
    .flatMap((part) => part.criteria)
    .find((row) => row.code === question.criterion);

/**
 * Questions of the office: about a mark, a card, two cards or the day. The judge says it is right,
 * puts it right, or cannot recall; each is kept.
 */

import { h, say } from "./draw.ts";
import { drawKeys } from "./keys.ts";
import { placesOf } from "./places.ts";
import { valueWords, wagonWords } from "./words.ts";
import type { Round } from "./round.ts";
import type { Criterion, Question, Touch, Verdict } from "./types.ts";

/** The question waits for the judge, also while the office weighs a correction it typed itself. */
const WAITING = ["open", "proposed"];

/** What each kind of question is answered by; `said` is read back. */
const ANSWERS: Record<
  Question["kind"],
  { confirm: string; said: string; correct: string; corrected: string }
> = {
  marks: {
    confirm: "The mark is right",
    said: "the mark is right",
    correct: "Correct it",
    corrected: "",
  },
  cards: {
    confirm: "The card is right",
    said: "the card is right",
    correct: "Open the card again",
    corrected: "You asked to open the card again.",
  },
  swaps: {
    confirm: "Both cards are right",
    said: "both cards are right",
    correct: "Open both cards again",
    corrected: "You asked to open both cards again.",
  },
  // A habit of the day is told; there is nothing to put right.
  day: { confirm: "I have seen it", said: "seen", correct: "", corrected: "" },
};

/** A kind this page does not know yet is told and seen. */
const answersTo = ({ kind }: Question) => ANSWERS[kind] ?? ANSWERS.day;

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
        open.length === 1 ? "The office asks" : `The office asks ${open.length} questions`,
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
      ? h("p", { class: "fault" }, `Your answer is with the office: ${held.reason}`)
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
      h("a", { href: `#card=${wagon.entry.id}` }, `Look at the card of ${wagonWords(wagon.entry)}`),
    ),
  );
}

function drawAnswered(question: Question, body: Touch, status: string, row: Criterion | undefined) {
  const { said: words, corrected } = answersTo(question);
  const put = corrected || `You corrected it to ${valueWords(body.value ?? "", row)}.`;
  const said: Record<Verdict, string> = {
    confirm: `You said: ${words}.`,
    correct: put,
    unsure: "You said: I cannot recall.",
  };
  const there =
    status === "unsent" || status === "stuck" ? " Saved, waits to be sent." : " The office has it.";
  return h("p", { class: "answered" }, "✓ ", said[body.verdict ?? "unsure"], there);
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
    say("Answer saved.");
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
        ? "A remark (you may leave this empty)"
        : "Why (you may leave this empty)",
    ),
    field,
    h(
      "div",
      { class: "pair" },
      choice("confirm", "big", confirm),
      question.kind === "marks"
        ? h("button", { type: "button", class: "big quiet", ...expands }, correct)
        : correct && choice("correct", "big quiet", correct),
      choice("unsure", "plainly", "I cannot recall"),
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
    h("p", {}, `The mark for ${row.name} should be:`),
    drawKeys({ row, places, choose }),
  );
}

const rowOf = (round: Round, question: Question): Criterion | undefined =>
  round.bundle?.card.sections
    .flatMap((part) => part.criteria)
    .find((row) => row.code === question.criterion);

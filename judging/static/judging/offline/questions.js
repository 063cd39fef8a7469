/** Questions of the office: the judge says the mark is right, or corrects it. Both are kept. */

import { h, say } from "./draw.js";
import { drawKeys } from "./keys.js";
import { placesOf } from "./places.js";
import { valueWords } from "./words.js";

/** @import {Round} from "./round.js" */
/** @import {Criterion, Question, Touch} from "./types.js" */

/** What is being written, by question, so that a redraw loses nothing. */
const reasons = /** @type {Map<number, string>} */ (new Map());
/** @type {number} the question whose number pad is open */
let correcting = 0;

/** @param {Round} round @param {() => void} paint @returns {HTMLElement[]} */
export function drawQuestions(round, paint) {
  const open = (round.bundle?.questions ?? []).filter(({ state }) => state === "open");
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

/** @param {Round} round @param {Question} question @param {() => void} paint */
function drawQuestion(round, question, paint) {
  const answer = round.answers.get(question.id);
  const kids = answer
    ? [drawAnswered(answer.body, answer.status, rowOf(round, question))]
    : drawChoice(round, question, paint);
  const held = round.held.find(
    (one) => one.body.kind === "answer" && one.body.question === question.id,
  );
  return h(
    "article",
    { class: "ask", "data-question": question.id },
    h("p", { class: "sentence" }, question.sentence),
    held && !answer
      ? h("p", { class: "fault" }, `Your answer is with the office: ${held.reason}`)
      : null,
    kids,
  );
}

/** @param {Touch} body @param {string} status @param {Criterion | undefined} row */
function drawAnswered(body, status, row) {
  const said =
    body.verdict === "confirm"
      ? "You said: the mark is right."
      : `You corrected it to ${valueWords(body.value ?? "", row)}.`;
  const there =
    status === "unsent" || status === "stuck" ? " Saved, waits to be sent." : " The office has it.";
  return h("p", { class: "answered" }, "✓ ", said, there);
}

/** @param {Round} round @param {Question} question @param {() => void} paint */
function drawChoice(round, question, paint) {
  const row = rowOf(round, question);
  const id = `reason-${question.id}`;
  const field = /** @type {HTMLInputElement} */ (
    h("input", {
      type: "text",
      id,
      maxlength: 300,
      oninput: () => reasons.set(question.id, field.value),
    })
  );
  field.value = reasons.get(question.id) ?? "";
  const answer = async (
    /** @type {"confirm" | "correct"} */ verdict,
    /** @type {string | null} */ value,
  ) => {
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
  return [
    h("label", { for: id }, "Why (you may leave this empty)"),
    field,
    h(
      "div",
      { class: "pair" },
      h(
        "button",
        { type: "button", class: "big", onclick: () => answer("confirm", null) },
        "The mark is right",
      ),
      h(
        "button",
        {
          type: "button",
          class: "big quiet",
          "aria-expanded": correcting === question.id,
          onclick: toggle,
        },
        "Correct it",
      ),
    ),
    correcting === question.id && row
      ? drawCorrection(round, row, (value) => answer("correct", value))
      : null,
  ];
}

/** @param {Round} round @param {Criterion} row @param {(value: string) => void} choose */
function drawCorrection(round, row, choose) {
  const section = round.bundle?.card.sections.find((part) => part.criteria.includes(row));
  const places = section ? placesOf(round.wagons, section) : [];
  return h(
    "div",
    {},
    h("p", {}, `The mark for ${row.name} should be:`),
    drawKeys({ row, places, choose }),
  );
}

/** @param {Round} round @param {Question} question @returns {Criterion | undefined} */
const rowOf = (round, question) =>
  round.bundle?.card.sections
    .flatMap((part) => part.criteria)
    .find((row) => row.code === question.criterion);

/** A judge's own marks so far: what is counted, and how it is said. */

import assert from "node:assert/strict";
import test from "node:test";

import { overlay } from "../src/card.ts";
import { spread, spreadOfRow, spreadOfSections, spreadWords } from "../src/spread.ts";
import type { Bundle } from "../src/types.ts";
import { GEAR, bundle, marked, row, visit } from "./small_round.ts";

const wagonsOf = (given: Bundle) => overlay(given, []).wagons;

test("the middle is the median: of an even number of marks, half way between two", () => {
  assert.deepEqual(spread(["8", "6", "7", "7"]), {
    marks: [6, 7, 7, 8],
    lowest: 6,
    middle: 7,
    highest: 8,
  });
  assert.equal(spread(["10", "9"])?.middle, 9.5);
  assert.equal(spread(["0.1", "0.3", "0.2"])?.middle, 0.2);
  assert.equal(spread([]), null);
});

test("a row's marks are those on the other wagons, in numbers alone, without practice", () => {
  const given = bundle([
    visit(1, { marks: { wheels: marked("6") } }),
    visit(2, { marks: { wheels: marked("8"), bolt: marked("1") } }),
    visit(3, { marks: { wheels: { state: "not_inspected", value: null } } }),
    visit(4, { marks: { wheels: marked("7") } }),
    visit(9, { marks: { wheels: marked("2") } }, { practice: true }),
  ]);
  assert.deepEqual(spreadOfRow(wagonsOf(given), 4, "wheels")?.marks, [6, 8]);
  assert.deepEqual(spreadOfRow(wagonsOf(given), 1, "wheels")?.marks, [7, 8]);
  assert.equal(spreadOfRow(wagonsOf(given), 2, "bolt"), null);
});

test("sections are told by what their rows go up to; places and passes are no scale", () => {
  const given = bundle([
    visit(1, { marks: { wheels: marked("6"), bolt: marked("4"), fire: marked("1") } }),
    visit(2, { marks: { wheels: marked("9") } }),
  ]);
  given.card.sections = [
    { ...GEAR, criteria: [row("wheels"), row("bolt", { max_mark: "5" })] },
    { ...GEAR, code: "fire", form: "pass_fail", criteria: [row("fire", { form: "pass_fail" })] },
  ];
  for (const one of given.visits) one.sections = ["gear", "fire"];
  const found = spreadOfSections(wagonsOf(given), given.card.sections);
  assert.deepEqual(
    found.map(({ name, max_mark, spread: { lowest, middle, highest, marks } }) => [
      name,
      max_mark,
      [lowest, middle, highest, marks.length],
    ]),
    [
      ["Running gear", "10", [6, 7.5, 9, 2]],
      ["Running gear", "5", [4, 4, 4, 1]],
    ],
  );
});

test("few marks are listed, many are summed up", () => {
  const words = (marks: string[]) => {
    const found = spread(marks);
    return found && spreadWords(found);
  };
  assert.equal(words(["6", "7", "7", "8"]), "Your marks so far: 6 7 7 8 · middle 7");
  const many = Array.from({ length: 13 }, (_, at) => String(at % 10));
  assert.equal(words(many), "Your marks so far: 13, from 0 to 9 · middle 3");
});

/** What a remark's field says of itself. */

import assert from "node:assert/strict";
import test from "node:test";

import { hintWords } from "../src/remark_words.ts";

test("saved stands only where the words shown are the words kept", () => {
  assert.equal(hintWords("Dry leather.", "Dry leather."), "Saved.");
  assert.equal(hintWords("Dry leather. Wa", "Dry leather."), "Not saved yet.");
  assert.equal(hintWords("Dry leather.", ""), "Not saved yet.");
  assert.equal(hintWords("", "Dry leather."), "Not saved yet.");
});

test("spaces and new lines are kept as one space, so they do not count", () => {
  assert.equal(hintWords("Dry\n leather. ", "Dry leather."), "Saved.");
});

test("an empty remark that nobody wrote says how long it may be", () => {
  assert.equal(hintWords("", ""), "Up to 300 letters.");
  assert.equal(hintWords("  ", ""), "Up to 300 letters.");
});

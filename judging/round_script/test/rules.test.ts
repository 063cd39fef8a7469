/** The phone's rules by themselves, and against the vectors that Python is held to as well. */

import assert from "node:assert/strict";
import { webcrypto } from "node:crypto";
import test from "node:test";

import hashes from "../../../tests/vectors/card_hashes.json";
import conditions from "../../../tests/vectors/conditions.json";
import paces from "../../../tests/vectors/pace.json";
import { cardHash, cardLines } from "../src/card.ts";
import { applies } from "../src/condition.ts";
import { hundredths, marksOf, plain } from "../src/number.ts";
import { tidyName } from "../src/scribe.ts";
import { shortHash } from "../src/words.ts";
import { pace } from "../src/pace.ts";
import type { Stop } from "../src/pace.ts";
import type { Condition, Mark, Rig } from "../src/types.ts";

// A page has it by itself, and so has Node since 19.
if (!globalThis.crypto) Object.assign(globalThis, { crypto: webcrypto });

test("a condition holds as the vectors say", () => {
  assert.ok(conditions.length > 5);
  for (const { condition, facts, expected } of conditions) {
    assert.equal(
      applies(condition as Condition, facts as Rig),
      expected,
      JSON.stringify(condition),
    );
  }
});

test("a word every object has is no fact of a rig", () => {
  assert.equal(applies({ toString: ["drop"] }, { tongue: "drop" }), false);
});

test("cards have the lines and the hash of the vectors", async () => {
  assert.ok(hashes.length > 3);
  for (const { marks, lines, hash } of hashes) {
    const given = marks as unknown as Record<string, Mark>;
    assert.deepEqual(cardLines(given), lines);
    assert.equal(await cardHash(given), hash);
  }
});

test("the pace is what the vectors say", () => {
  assert.ok(paces.length > 5);
  for (const { stops, now_s, expected } of paces) {
    assert.deepEqual(pace(stops as Stop[], now_s), expected);
  }
});

test("a decimal loses its needless zeros and keeps the needed ones", () => {
  const written = ["7.50", "07", "0.0", "10", "0.25", "100.00"].map(plain);
  assert.deepEqual(written, ["7.5", "7", "0", "10", "0.25", "100"]);
});

test("hundredths are whole, also where a binary fraction is not", () => {
  assert.deepEqual(["0.29", "1.1", "3", "4.35"].map(hundredths), [29, 110, 300, 435]);
});

test("the pad goes from nothing to the maximum in steps", () => {
  assert.deepEqual(marksOf({ max_mark: "0.3", step: "0.1" }), ["0", "0.1", "0.2", "0.3"]);
  assert.deepEqual(marksOf({ max_mark: "1", step: "0.4" }), ["0", "0.4", "0.8"]);
  assert.deepEqual(marksOf({ max_mark: "5", step: "0" }), []);
});

test("a card is named by eight digits of its hash, in two groups", () => {
  assert.equal(shortHash("3fa291bc77e0"), "3fa2 91bc");
});

test("a name is kept on one line and no longer than the server keeps it", () => {
  assert.equal(tidyName("  Oda \n Brandt "), "Oda Brandt");
  assert.equal([...tidyName("é".repeat(90))].length, 80);
  assert.equal(tidyName("   "), "");
});

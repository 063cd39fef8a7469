/** What a server that came back from an older backup lacks. */

import assert from "node:assert/strict";
import test from "node:test";

import { answered, compared, fresh } from "../src/restored.ts";
import { kept } from "./small_round.ts";
import type { Outcome, StoredEvent } from "../src/types.ts";

const touch = (seq: number, more: Partial<StoredEvent> = {}) =>
  kept(seq, { kind: "mark", entry: 1, criterion: "wheels" }, { status: "applied", ...more });
const says = (status: Outcome["status"], code = ""): Outcome => ({
  id: "touch-1",
  status,
  code,
  reason: "",
});

test("a server that has what it answered for has lost nothing", () => {
  const events = [
    touch(1),
    touch(2, { status: "held", code: "rows-missing" }),
    touch(3, { status: "duplicate" }),
    touch(4, { status: "unsent" }),
    touch(5, { status: "stuck" }),
  ];
  assert.deepEqual(compared(3, events), { lost: false, agreed: 0 });
  assert.deepEqual(compared(2, events), { lost: true, agreed: null });
});

test("touches made before the loss is known do not hide it", () => {
  // Two lost, two new: it has two, as it had before.
  const events = [1, 2, 3, 4].map((seq) => touch(seq));
  assert.equal(compared(2, events, 0).lost, true);
});

test("what the server may have under an earlier pairing is not counted", () => {
  const events = [touch(1, { status: "duplicate", moved: true }), touch(2, { moved: false })];
  assert.deepEqual(compared(1, events), { lost: false, agreed: 0 });
  // It was under this one after all, its first answer lost: now it counts too.
  assert.deepEqual(compared(2, events), { lost: false, agreed: 1 });
  assert.equal(compared(1, events, 1).lost, true);
});

test("one loss is answered once, also where the two never agree", () => {
  const events = [touch(1), touch(2), touch(3)];
  const first = compared(1, events, 0);
  const second = compared(1, events, first.agreed);
  const third = compared(1, events, second.agreed);
  assert.deepEqual(
    [first, second, third].map(({ lost }) => lost),
    [true, false, false],
  );
  assert.equal(compared(0, events, third.agreed).lost, true);
});

test("a touch lined up again stands as if it had never been sent", () => {
  const lined = fresh(touch(1, { status: "held", code: "x", reason: "y", in_bundle: true }));
  assert.deepEqual(lined, touch(1, { status: "unsent" }));
});

test("an answer tells which pairing the server has a touch under", () => {
  assert.equal(answered(touch(1), says("applied"), 1).moved, false);
  assert.equal(answered(touch(1, { moved: true }), says("applied"), 1).moved, false);
  assert.equal(answered(touch(1, { moved: true }), says("duplicate"), 1).moved, true);
  assert.equal(answered(touch(1), says("duplicate"), 1).moved, false);
  // Answered to the earlier pairing while it was going over to the next.
  assert.equal(answered(touch(1, { device: 2, moved: true }), says("applied"), 1).moved, true);
});

test("sent a second time, a held touch is still held", () => {
  assert.equal(answered(touch(1), says("duplicate", "other-device"), 1).status, "held");
  assert.equal(answered(touch(1), says("duplicate"), 1).status, "duplicate");
});

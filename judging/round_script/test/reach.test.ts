/** Who answered: our server, or something on the way to it. */

import assert from "node:assert/strict";
import test from "node:test";

import { refusal } from "../src/reach.ts";

const reply = (status: number, body: unknown) =>
  ({ reached: true, status, body, etag: "", retry_after_s: 0 }) as const;

test("our server refuses by a code of its own", () => {
  assert.equal(refusal(reply(422, { code: "invalid-input", status: 422 })), "invalid-input");
  assert.equal(refusal(reply(401, { code: "device-unknown" })), "device-unknown");
});

test("a 400 without our code is no refusal, whatever it is written in", () => {
  for (const body of [null, {}, { error: "Bad Request" }, { code: 400 }, [], "bad"]) {
    assert.equal(refusal(reply(400, body)), "");
  }
});

test("a body cut off on the way is not the touch's fault", () => {
  assert.equal(refusal(reply(400, { code: "parse-error", status: 400 })), "");
});

test("what was taken was not refused", () => {
  assert.equal(refusal(reply(200, { code: "anything" })), "");
});

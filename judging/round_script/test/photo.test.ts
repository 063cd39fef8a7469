/** Photos: how small, and how many. */

import assert from "node:assert/strict";
import test from "node:test";

import { fitted, idsOn, reasonAgainst, smallEnough } from "../src/photo_rules.ts";
import type { Photo } from "../src/types.ts";

const photo = (id: string, bytes: number | null, more: Partial<Photo> = {}): Photo => ({
  id,
  device: 1,
  entry: 1,
  criterion: "",
  jpeg: bytes === null ? null : new ArrayBuffer(bytes),
  thumb: "",
  status: bytes === null ? "sent" : "unsent",
  reason: "",
  seen: false,
  ...more,
});

test("a picture keeps its proportion, and a small one its size", () => {
  assert.deepEqual(fitted(4032, 3024, 1600), [1600, 1200]);
  assert.deepEqual(fitted(3024, 4032, 1600), [1200, 1600]);
  assert.deepEqual(fitted(800, 600, 1600), [800, 600]);
  assert.deepEqual(fitted(9000, 1, 1600), [1600, 1]);
});

test("the quality falls until the picture is light enough, and no further than it must", async () => {
  const tried: number[] = [];
  const encode = (weight: number) => (quality: number) => {
    tried.push(quality);
    return Promise.resolve({ size: weight * quality });
  };
  assert.equal((await smallEnough(encode(550_000))).size, 550_000 * 0.7);
  assert.deepEqual(tried, [0.82, 0.7]);
  tried.length = 0;
  // Too heavy at any quality: the lightest is taken.
  assert.equal((await smallEnough(encode(9_000_000))).size, 9_000_000 * 0.3);
  assert.deepEqual(tried, [...tried].sort().reverse());
});

test("twelve may wait and six megabytes; what the office has takes no room", () => {
  const twelve = Array.from({ length: 12 }, (_, at) => photo(String(at), 1000));
  assert.ok(reasonAgainst(twelve, 1000).startsWith("12 photos wait here"));
  assert.equal(reasonAgainst(twelve.slice(1), 1000), "");
  assert.equal(reasonAgainst([...twelve.slice(1), photo("sent", null)], 1000), "");
  assert.ok(reasonAgainst([photo("large", 5_900_000)], 200_000).startsWith("1 photo waits here"));
  // One that was refused still lies here.
  const refused = twelve.map((one) => ({ ...one, status: "refused" as const }));
  assert.ok(reasonAgainst(refused, 1000) !== "");
});

test("a photo that is here and at the office is one photo of the card", () => {
  const here = [photo("a", 10), photo("b", null), photo("c", 10, { entry: 2 })];
  assert.deepEqual([...idsOn(1, here, [{ id: "b" }, { id: "d" }])].sort(), ["a", "b", "d"]);
});

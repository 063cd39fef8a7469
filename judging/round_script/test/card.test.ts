/** The phone's own touches over what the server gave. */

import assert from "node:assert/strict";
import test from "node:test";

import { whole } from "../src/bundle.ts";
import type { SentRound } from "../src/bundle.ts";
import { changeOf, missingRows, overlay, rowsApart, standings } from "../src/card.ts";
import { samePlaces } from "../src/places.ts";
import { keptWords } from "../src/scratched.ts";
import type { Bundle, StoredEvent, Wagon } from "../src/types.ts";
import { DROP, GEAR, STIFF, bundle, kept, marked, row, visit } from "./small_round.ts";

function laid(given: Bundle, events: StoredEvent[] = []): Wagon[] {
  return overlay(given, events).wagons;
}

const codes = (wagon: Wagon | undefined) =>
  wagon?.sections.flatMap(({ rows }) => rows.map(({ code }) => code));

test("the later count stands, whatever the order and the clock", () => {
  const later = kept(7, { kind: "mark", entry: 1, criterion: "wheels", ...marked("8") });
  const earlier = kept(3, { kind: "mark", entry: 1, criterion: "wheels", ...marked("2") });
  later.body.at = "2001-01-01T00:00:00Z";
  const [wagon] = laid(bundle([visit(1)]), [later, earlier]);
  assert.deepEqual(wagon?.card.marks, { wheels: marked("8") });
});

test("a held touch does not stand, and one already in the bundle is not laid again", () => {
  const touch = { kind: "mark", entry: 1, criterion: "wheels", ...marked("9") } as const;
  const given = bundle([visit(1, { marks: { wheels: marked("5") } })]);
  for (const more of [{ status: "held" }, { status: "applied", in_bundle: true }] as const) {
    assert.deepEqual(laid(given, [kept(1, touch, more)])[0]?.card.marks.wheels, marked("5"));
  }
  // Delivered, but the bundle is older: it counts.
  const sent = kept(1, touch, { status: "applied" });
  assert.deepEqual(laid(given, [sent])[0]?.card.marks.wheels, marked("9"));
});

test("a mark taken back leaves its row empty and the bundle as it was", () => {
  const given = bundle([visit(1, { marks: { wheels: marked("5") } })]);
  const [wagon] = laid(given, [kept(1, { kind: "clear", entry: 1, criterion: "wheels" })]);
  assert.deepEqual(wagon && missingRows(wagon).map(({ code }) => code), ["wheels", "bolt"]);
  assert.deepEqual(given.visits[0]?.card.marks.wheels, marked("5"));
});

test("another rig forms the card anew and puts aside what was marked on rows it lacks", () => {
  const given = bundle([visit(1, { marks: { bolt: marked("4"), wheels: marked("5") } })]);
  const found = kept(1, { kind: "rig", entry: 1, rig: STIFF });
  const [stiff] = laid(given, [found]);
  assert.deepEqual(codes(stiff), ["wheels"]);
  assert.deepEqual(stiff?.card.marks, { wheels: marked("5") });
  assert.deepEqual(stiff?.card.aside, { bolt: marked("4") });
  assert.equal(stiff?.report?.state, "open");
  const [back] = laid(given, [found, kept(2, { kind: "rig", entry: 1, rig: DROP })]);
  assert.deepEqual(back?.card.marks, { bolt: marked("4"), wheels: marked("5") });
  assert.equal(back?.report, null);
});

test("what another rig would do is counted before it is said", () => {
  const given = bundle([visit(1, { marks: { bolt: marked("4") } })]);
  const [wagon] = laid(given);
  assert.ok(wagon);
  assert.deepEqual(changeOf(given.card, wagon, STIFF), { fewer: 1, more: 0, aside: 1, back: 0 });
  assert.deepEqual(changeOf(given.card, wagon, DROP), { fewer: 0, more: 0, aside: 0, back: 0 });
});

test("a corrected answer changes the mark it was asked about, a confirmed one none", () => {
  const question = {
    id: 4,
    kind: "marks" as const,
    check: "",
    entry: 1,
    other_entry: null,
    criterion: "wheels",
    value: "2",
    expected: "6",
    sentence: "",
    state: "open",
  };
  const given = bundle([visit(1, { marks: { wheels: marked("2") } })], { questions: [question] });
  const answer = (verdict: "correct" | "confirm") =>
    kept(1, { kind: "answer", question: 4, verdict, value: "6" });
  assert.deepEqual(laid(given, [answer("correct")])[0]?.card.marks.wheels, marked("6"));
  assert.deepEqual(laid(given, [answer("confirm")])[0]?.card.marks.wheels, marked("2"));
});

test("rows are apart where the mark, its state or the row itself is another", () => {
  const signed = { wheels: marked("7.50"), bolt: marked("4"), hub: marked("1") };
  const none = { state: "not_inspected", value: null } as const;
  assert.deepEqual(rowsApart(signed, { wheels: marked("7.5"), bolt: none, rim: marked("2") }), [
    "bolt",
    "hub",
    "rim",
  ]);
  assert.deepEqual(rowsApart(signed, structuredClone(signed)), []);
});

test("two visits to one wagon are one card; concerns stay with it", () => {
  const twice = bundle([visit(1), visit(1)]);
  const wagons = laid(twice, [kept(1, { kind: "concern", entry: 1, degree: "stop", text: "" })]);
  assert.equal(wagons.length, 1);
  assert.deepEqual(wagons[0]?.concerns, ["touch-1"]);
});

test("the next wagon is the first one not begun, and never the practice wagon", () => {
  const given = bundle([
    visit(9, {}, { practice: true }),
    visit(1, { handed_in: true }),
    visit(2, { marks: { wheels: marked("1") } }),
    visit(3),
    visit(4),
  ]);
  assert.deepEqual(
    [...standings(laid(given))],
    [
      [9, "later"],
      [1, "done"],
      [2, "in work"],
      [3, "next"],
      [4, "later"],
    ],
  );
});

test("a scratched wagon is never the next one, keeps its marks and has no row to mark", () => {
  const gone = { scratched: true, sections: [] };
  const given = bundle([
    visit(1, { marks: { wheels: marked("7") } }, gone),
    visit(2, {}, gone),
    visit(3),
  ]);
  const late = kept(1, { kind: "mark", entry: 1, criterion: "bolt", ...marked("3") });
  const wagons = laid(given, [late]);
  assert.deepEqual(
    [...standings(wagons)],
    [
      [1, "scratched"],
      [2, "scratched"],
      [3, "next"],
    ],
  );
  const [first] = wagons;
  assert.deepEqual(first?.card.marks, { wheels: marked("7"), bolt: marked("3") });
  assert.deepEqual(first && missingRows(first), []);
  assert.deepEqual(wagons.map(keptWords), ["2 marks kept", "", ""]);
});

test("a place given to two wagons is told, with the other's number", () => {
  const camp = {
    ...GEAR,
    form: "placings" as const,
    criteria: [row("camp", { form: "placings" })],
  };
  const given = bundle(
    [1, 2, 3].map((id) => visit(id, { marks: { camp: marked(id === 3 ? "2" : "1") } })),
  );
  given.card.sections = [camp];
  const wagons = laid(given);
  const told = wagons.map((wagon) => samePlaces(wagons, wagon).map(({ sentence }) => sentence));
  assert.deepEqual(told, [
    ["Place 1 is also given to wagon 2."],
    ["Place 1 is also given to wagon 1."],
    [],
  ]);
});

test("a round kept before an update is made whole, and one of today stays as it is", () => {
  const today = bundle([visit(1)]);
  assert.deepEqual(whole(today), today);
  const early = structuredClone(today) as unknown as SentRound;
  for (const late of ["rig_facts", "policies_by_class", "announcements", "photos"] as const)
    delete early[late];
  delete early.handbook;
  delete early.device.scribe;
  for (const one of early.visits) {
    delete one.practice;
    delete one.scratched;
    delete one.photos;
    delete one.entry.rig_entered;
    delete one.card.aside;
  }
  for (const section of early.card.sections) {
    delete section.form;
    for (const one of section.criteria) delete one.parts;
  }
  assert.deepEqual(whole(early), { ...today, rig_facts: [] });
});

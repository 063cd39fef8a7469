/** What is said, in which language; and that no word of the round is said past `language.ts`. */

import assert from "node:assert/strict";
import { readFileSync, readdirSync } from "node:fs";
import { createRequire } from "node:module";
import test from "node:test";

import { gettext, known, ngettext, number, pgettext, pieces, speak } from "../src/language.ts";
import { clock, markWords } from "../src/words.ts";
import { pace } from "../src/pace.ts";
import type * as TypeScript from "typescript";

const ts: typeof TypeScript = createRequire(`${process.cwd()}/`)("typescript");

/** Speak Spanish while this runs. */
function inSpanish(does: () => void) {
  speak("es");
  try {
    does();
  } finally {
    speak("en");
  }
}

test("a sentence is said in the language chosen, with its gaps filled", () => {
  const say = () => gettext("last contact {n} min ago", { n: 4 });
  assert.equal(say(), "last contact 4 min ago");
  inSpanish(() => assert.equal(say(), "último contacto hace 4 min"));
});

test("what no catalogue has is said in English", () => {
  inSpanish(() => {
    const words = "Nobody has " + "translated {this} yet";
    assert.equal(gettext(words, { this: "x" }), "Nobody has translated x yet");
    assert.equal(ngettext("{n} " + "gnu", "{n} gnus", 1), "1 gnu");
    assert.equal(ngettext("{n} " + "gnu", "{n} gnus", 2), "2 gnus");
    assert.equal(pgettext("no such" + " sense", "Next"), "Next");
  });
});

test("a number asks for its form, and is written as the reader writes it", () => {
  const say = (n: number) => ngettext("{n} row left", "{n} rows left", n);
  assert.deepEqual([0, 1, 2, 1234].map(say), [
    "0 rows left",
    "1 row left",
    "2 rows left",
    "1,234 rows left",
  ]);
  inSpanish(() => {
    const found = [0, 1, 2, 1234, 1_000_000].map(say);
    assert.deepEqual(found, [
      "faltan 0 renglones",
      "falta 1 renglón",
      "faltan 2 renglones",
      "faltan 1,234 renglones",
      "faltan 1,000,000 renglones",
    ]);
    assert.equal(number(1234.5), "1,234.5");
  });
});

test("one word stands for two things, in the sense named", () => {
  inSpanish(() => {
    assert.equal(pgettext("a card", "Handed in"), "Entregada");
    assert.equal(pgettext("a hand", "Left"), "Izquierda");
  });
});

test("a gap that has no value stays, and a value is not looked through for gaps", () => {
  assert.equal(gettext("{row}: mark taken back"), "{row}: mark taken back");
  assert.equal(gettext("Not saved: {mark}", { mark: "{row}" }), "Not saved: {row}");
  const put = pieces("{a} and {b}, {c}", { a: "{b}", b: "two" });
  assert.deepEqual(put, ["{b} and two, {c}"]);
});

test("a language is known by its tag, however it is written", () => {
  assert.deepEqual(["es-MX", "ES", "en-US", "fr", "", null].map(known), [
    "es",
    "es",
    "en",
    undefined,
    undefined,
    undefined,
  ]);
});

test("hours are of twenty-four in both languages", () => {
  const at = "2031-05-03T21:05:00Z";
  assert.equal(clock(at, "UTC"), "21:05");
  inSpanish(() => assert.equal(clock(at, "UTC"), "21:05"));
});

test("marks and the pace are said in Spanish", () => {
  inSpanish(() => {
    assert.equal(markWords(undefined, undefined), "sin calificación");
    assert.equal(markWords({ state: "not_applicable", value: null }, undefined), "no aplica");
    const stop = { key: 1, starts_s: 0, ends_s: 600, began_s: 0, ended_s: null };
    assert.equal(pace([stop], 300).words, "quedan 5 min aquí · a tiempo");
  });
});

// -- the sources ---------------------------------------------------------------------------

/** Calls that say a sentence in the reader's language. */
const SAY = ["gettext", "ngettext", "pgettext"];
/** Their attributes are no words to anybody. */
const UNREAD_PROPERTIES =
  /^(class|id|href|type|kind|role|for|inputmode|autocomplete|autocapitalize|viewBox|durability|data-.*|aria-(hidden|live|pressed|expanded|labelledby)|[A-Z][\w-]*)$/;
/** Calls whose words go to programs: the browser, the store, the server, a programmer. */
const UNREAD_CALLS =
  /^(Error|Set|Blob|querySelector(All)?|matches|closest|getElementById|matchMedia|addEventListener|openDB|createObjectStore|createIndex|postMessage|make|keep|choose|kept|fact|keepFact|transaction|objectStore|setAttribute)$/;
/** Said as they are in every language, or read by programs alone. */
const SAME = [
  "English",
  "Español",
  "ABCD-3467",
  "InvalidStateError",
  "UnknownError",
  "BroadcastChannel",
  "ETag",
  "Retry-After",
  "Content-Type",
  "GET",
  "POST",
  "SHA-256",
  "UTC",
  "Bearer ",
  "A",
  "B",
  "C",
  "aborted",
  "in work",
  "not our server",
  // Styles.
  "section.part, ol.rows",
  "keys two",
  "big quiet",
];

type Node = TypeScript.Node;

/** A word a person reads: two words together, or one that begins a sentence. */
const readable = (text: string) =>
  /[A-Za-z]{2,}[,:;]? [a-zA-Z]{2,}/.test(text) || /^[A-Z][a-z]+[.:!?]?$/.test(text.trim());

const textOf = (node: Node): string | null => {
  if (ts.isStringLiteralLike(node)) return node.text;
  if (!ts.isTemplateExpression(node)) return null;
  return [node.head.text, ...node.templateSpans.map((span) => span.literal.text)].join("\u0000");
};

const calleeOf = (call: Node): string => {
  if (!ts.isCallExpression(call) && !ts.isNewExpression(call)) return "";
  const called = call.expression;
  return ts.isPropertyAccessExpression(called) ? called.name.text : called.getText();
};

/** Whether it is a child of `h()`, or said aloud: there every letter is read. */
function isShown(node: Node): boolean {
  const call = node.parent;
  if (ts.isConditionalExpression(call) && call.condition !== node) return isShown(call);
  if (ts.isArrayLiteralExpression(call)) return isShown(call);
  if (!ts.isCallExpression(call)) return false;
  const place = call.arguments.indexOf(node as TypeScript.Expression);
  return (calleeOf(call) === "h" && place >= 2) || calleeOf(call) === "say";
}

function isUnread(node: Node): boolean {
  for (let at = node; at.parent; at = at.parent) {
    const { parent } = at;
    if (ts.isImportDeclaration(parent) || ts.isExportDeclaration(parent)) return true;
    if (ts.isLiteralTypeNode(parent)) return true;
    if (ts.isPropertyAssignment(parent) && parent.name === at) return true;
    if (ts.isPropertyAssignment(parent) && at === parent.initializer) {
      const name = ts.isIdentifier(parent.name) ? parent.name.text : textOf(parent.name);
      if (UNREAD_PROPERTIES.test(name ?? "")) return true;
    }
    const call = calleeOf(parent);
    if (SAY.includes(call) || UNREAD_CALLS.test(call)) return true;
    if (ts.isStatement(parent)) return false;
  }
  return false;
}

function saidPast(source: string): string[] {
  const file = ts.createSourceFile("one.ts", source, ts.ScriptTarget.ES2022, true);
  const found: string[] = [];
  const look = (node: Node) => {
    const text = textOf(node);
    const letters = text !== null && /[A-Za-z]{2,}/.test(text);
    if (text && letters && !SAME.includes(text) && !isUnread(node)) {
      if (readable(text) || isShown(node)) found.push(text);
    }
    ts.forEachChild(node, look);
  };
  look(file);
  return found;
}

test("no word is said past the catalogue", () => {
  const names = readdirSync("src").filter((name) => /^(?!.*\.d\.ts$).*\.ts$/.test(name));
  assert.ok(names.length > 40);
  const found = names.flatMap((name) =>
    saidPast(readFileSync(`src/${name}`, "utf8")).map((text) => `${name}: ${text}`),
  );
  assert.deepEqual(found, []);
});

test("a word said past the catalogue is found", () => {
  assert.deepEqual(saidPast('h("p", {}, "yes")'), ["yes"]);
  assert.deepEqual(saidPast('h("p", { class: "big stop" }, on ? "yes" : gettext("no"))'), ["yes"]);
  assert.deepEqual(saidPast("say(`${name} saved`)"), ["\u0000 saved"]);
  assert.deepEqual(saidPast('const WORDS = { a: "Not saved yet" };'), ["Not saved yet"]);
  assert.deepEqual(saidPast('const word = "Handbook";'), ["Handbook"]);
  assert.deepEqual(saidPast('h("p", {}, gettext("Not saved"))'), []);
  assert.deepEqual(saidPast('h("p", { "aria-label": "What it does" })'), ["What it does"]);
});

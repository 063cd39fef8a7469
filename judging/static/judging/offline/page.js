/** Starts the round, and shows the page that the address names. */

import { CardPage } from "./card_page.js";
import { tick } from "./clock.js";
import { h, handsOn, redraw, whenHandsOff } from "./draw.js";
import { drawHandbook } from "./handbook.js";
import { drawList } from "./list_page.js";
import { PairPage } from "./pair_page.js";
import * as outbox from "./outbox.js";
import { codeIn, staysNow } from "./pair.js";
import { compareCards, drawPhone } from "./phone_page.js";
import { Round } from "./round.js";
import { applyLook } from "./theme.js";
import { register } from "./update.js";
import { SAFETY, contactWords, some, wagonWords } from "./words.js";

const EACH_MS = 20_000;

const view = place("view");
const bar = place("bar");
const strip = place("strip");
const alarm = place("alarm");

/** @param {string} id @returns {HTMLElement} */
function place(id) {
  const found = document.getElementById(id);
  if (!found) throw new Error(`The page has no ${id}.`);
  return found;
}

const round = new Round();
const card = new CardPage(round, paint, changed);
const pairing = new PairPage(round, paint, () => go(""));
let pairingWanted = false;
let stale = false;

/** @param {string} fragment */
function go(fragment) {
  pairingWanted = false;
  if (location.hash.replace("#", "") === fragment) arrive();
  else location.hash = fragment;
}

/** @returns {{page: "pair" | "phone" | "handbook" | "card" | "list", entry: number}} */
function route() {
  if (!round.device || round.device.shut || pairingWanted) return { page: "pair", entry: 0 };
  const asked = new URLSearchParams(location.hash.slice(1));
  const entry = Number(asked.get("card"));
  if (round.wagon(entry)) return { page: "card", entry };
  if (asked.has("handbook")) return { page: "handbook", entry: 0 };
  return { page: asked.has("phone") ? "phone" : "list", entry: 0 };
}

/** Draw everything as it stands now. */
function paint() {
  stale = false;
  const { page, entry } = route();
  document.body.dataset.page = page;
  const wagon = round.wagon(entry);
  document.title = wagon ? `${wagonWords(wagon.entry)} – Judge's round` : "Judge's round";
  redraw(bar, drawBar(page, entry));
  redraw(view, drawView(page, entry));
  redraw(strip, drawStrip(page));
  redraw(alarm, drawAlarm(page));
}

/** @param {string} page @param {number} entry */
function drawView(page, entry) {
  const wagon = round.wagon(entry);
  if (page === "card" && wagon) return card.draw(wagon);
  if (page === "pair") return pairing.draw();
  if (page === "handbook") return drawHandbook(round);
  if (page === "phone") return drawPhone(round, { paint: comparePaint, repair });
  return drawList(round, paint);
}

function repair() {
  pairingWanted = true;
  pairing.fault = "";
  paint();
  document.getElementById("pair-title")?.focus();
}

/** @param {string} page @param {number} entry */
function drawBar(page, entry) {
  const back = ["card", "phone", "handbook"].includes(page);
  const number = round.wagon(entry)?.entry.number;
  return [
    back
      ? h("a", { class: "back", href: "#" }, "‹ All wagons")
      : h("span", { class: "showname" }, round.bundle?.show.name ?? "Judge's round"),
    number ? h("span", { class: "where" }, `No. ${number}`) : null,
    page === "list" || page === "card"
      ? h("a", { class: "tophone", href: "#phone" }, "This phone")
      : null,
  ];
}

/** @param {string} page */
function drawStrip(page) {
  if (!round.device) return [];
  const waiting = round.waiting.length;
  const words = waiting ? `● ${waiting} not sent yet` : "✓ All sent";
  const held = round.held.length ? ` · ${round.held.length} with the office` : "";
  return [
    h(
      "p",
      { id: "sync", class: waiting ? "waits" : "sent", "data-waiting": waiting },
      h("strong", {}, words),
      held,
      h("br"),
      contactWords(round.contact),
    ),
    page === "card" ? card.drawUndo() : null,
    page === "list" ? h("p", { class: "safety" }, SAFETY) : null,
  ];
}

/** What could not be saved, loud, wherever the judge is. @param {string} page */
function drawAlarm(page) {
  if (!round.unsaved.size || page === "pair") return [];
  const faults = new Set([...round.unsaved.values()].map((one) => one.fault));
  const many = some(round.unsaved.size, "touch is", "touches are");
  return [
    h("p", { class: "loud" }, "Not saved"),
    h(
      "p",
      {},
      `${many} in memory only. Do not close this page; write the mark down. (${[...faults].join(", ")})`,
    ),
    h(
      "button",
      { type: "button", class: "big", onclick: () => round.saveAgain().then(paint) },
      "Save again",
    ),
  ];
}

/** Show the page the address names, from its top, and tell where the reader is. */
function arrive() {
  card.leave();
  paint();
  scrollTo({ top: 0, behavior: "instant" });
  view.querySelector("h1")?.focus({ preventScroll: true });
  if (route().page === "phone") comparePaint();
}

function comparePaint() {
  compareCards(round).then(paint).catch(paint);
}

/** A reply must not take the text or the button from under the fingers. */
function changed() {
  if (handsOn()) stale = true;
  else paint();
}

/** A code in the address is used once and taken out of it. */
async function pairFromAddress() {
  const code = codeIn(location.hash);
  if (!code) return;
  history.replaceState(null, "", location.pathname);
  pairing.code = code;
  pairingWanted = true;
  await pairing.tryCode();
}

async function start() {
  applyLook();
  round.addEventListener("change", changed);
  addEventListener("hashchange", () => {
    if (codeIn(location.hash)) pairFromAddress();
    else arrive();
  });
  whenHandsOff(() => stale && paint());
  try {
    await round.load();
  } catch (fault) {
    redraw(view, [
      h("h1", {}, "This browser cannot keep your marks"),
      h("p", {}, "Leave private browsing, free some space, or use another phone or a paper card."),
      h("p", {}, String(fault)),
    ]);
    return;
  }
  register(changed);
  if (round.device)
    staysNow()
      .then((stays) => outbox.keepFact("stays", stays))
      .catch(() => undefined);
  await pairFromAddress();
  round.sync.nudge(0);
  setInterval(changed, EACH_MS);
  tick(round);
  document.documentElement.dataset.ready = "yes";
}

start();

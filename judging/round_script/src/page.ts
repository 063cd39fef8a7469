/** Starts the round, and shows the page that the address names. */

import { CardPage } from "./card_page.ts";
import { drawBrief, tick } from "./clock.ts";
import { h, handsOn, redraw, whenHandsOff } from "./draw.ts";
import { drawHandbook } from "./handbook.ts";
import { gettext, ngettext, own } from "./language.ts";
import { drawList } from "./list_page.ts";
import { PairPage } from "./pair_page.ts";
import * as outbox from "./outbox.ts";
import { codeIn, staysNow } from "./pair.ts";
import { compareCards, drawPhone } from "./phone_page.ts";
import { keepRemarks, leaveRemarks, takeUpRemarks } from "./remark.ts";
import { Round } from "./round.ts";
import { applyLanguage, applyLook } from "./theme.ts";
import { register } from "./update.ts";
import {
  contactWords,
  notSavedWords,
  numberWords,
  roundWords,
  safetyWords,
  wagonWords,
} from "./words.ts";

const EACH_MS = 20_000;

const view = place("view");
const bar = place("bar");
const strip = place("strip");
const alarm = place("alarm");

function place(id: string): HTMLElement {
  const found = document.getElementById(id);
  if (!found) throw new Error(`The page has no ${id}.`);
  return found;
}

const round = new Round();
const card = new CardPage(round, paint, changed);
const pairing = new PairPage(round, paint, () => go(""));
/** A code was opened, or is to be typed. */
let pairingWanted = false;
let stale = false;

function go(fragment: string) {
  pairingWanted = false;
  if (location.hash.replace("#", "") === fragment) arrive();
  else location.hash = fragment;
}

function route(): { page: "pair" | "phone" | "handbook" | "card" | "list"; entry: number } {
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
  document.title = wagon
    ? `${wagonWords(wagon.entry)} – ${roundWords()}`
    : roundWords();
  redraw(bar, drawBar(page, entry));
  redraw(view, drawView(page, entry));
  redraw(strip, drawStrip(page));
  redraw(alarm, drawAlarm());
}

function drawView(page: string, entry: number) {
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

function drawBar(page: string, entry: number) {
  const back = ["card", "phone", "handbook"].includes(page);
  const wagon = round.wagon(entry);
  const number = wagon?.entry.number;
  const named = wagon?.entry.wagon_name ?? round.bundle?.show.name;
  const name = number ? numberWords(number) : named ? own(named) : roundWords();
  return [
    back
      ? h("a", { class: "back", href: "#" }, "‹ ", drawBack())
      : null,
    page === "list" || page === "card"
      ? h(
          "span",
          { class: "where" },
          h("span", {}, name),
          drawBrief(round, entry),
        )
      : h("span", { class: "showname" }, back ? "" : name),
    page === "list" || page === "card"
      ? h("a", { class: "tophone", href: "#phone" }, gettext("This phone"))
      : null,
  ];
}

/** On a narrow screen only its first word is shown. */
function drawBack() {
  const [first = "", ...more] = gettext("All wagons").split(" ");
  return [first, h("span", { class: "more" }, ` ${more.join(" ")}`)];
}

function drawStrip(page: string) {
  if (!round.device) return [];
  const waiting = round.waiting.length;
  const photos = round.album.waiting.length;
  const all = photos ? gettext("Marks sent") : gettext("All sent");
  const words = waiting
    ? `● ${ngettext("{n} not sent yet", "{n} not sent yet", waiting)}`
    : `✓ ${all}`;
  const photoWords = photos ? ` · ${ngettext("{n} photo waits", "{n} photos wait", photos)}` : "";
  const held = round.held.length
    ? ` · ${gettext("{n} with the office", { n: round.held.length })}`
    : "";
  return [
    h(
      "p",
      { id: "sync", class: waiting ? "waits" : "sent", "data-waiting": waiting },
      h("strong", {}, words),
      held,
      photoWords,
      h("br"),
      contactWords(round.contact),
    ),
    page === "card" ? card.drawUndo() : null,
    page === "list" ? h("p", { class: "safety" }, safetyWords()) : null,
  ];
}

/** What could not be saved, loud, wherever the judge is. */
function drawAlarm() {
  if (!round.unsaved.size) return [];
  const faults = new Set([...round.unsaved.values()].map((one) => one.fault));
  const words = ngettext(
    "{n} touch is in memory only. Do not close this page; write the mark down.",
    "{n} touches are in memory only. Do not close this page; write the mark down.",
    round.unsaved.size,
  );
  return [
    h("p", { class: "loud" }, notSavedWords()),
    h("p", {}, `${words} (${[...faults].join(", ")})`),
    h(
      "button",
      { type: "button", class: "big", onclick: () => round.saveAgain().then(paint) },
      gettext("Save again"),
    ),
  ];
}

/** Show the page the address names, from its top, and tell where the reader is. */
function arrive() {
  card.leave();
  // Nothing of one card stays for the next: neither what is unfolded nor what listens.
  view.replaceChildren();
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
  stale = true;
  // Who made the change often paints by itself and in place: then that is enough.
  setTimeout(() => {
    if (stale && !handsOn()) paintAnew();
  }, 0);
}

/** What the phone holds is compared again before it is shown. */
function paintAnew() {
  if (route().page === "phone") comparePaint();
  else paint();
}

/** A code in the address is used once and taken out of it. */
async function pairFromAddress() {
  const code = codeIn(location.hash);
  if (!code) return;
  history.replaceState(null, "", location.pathname);
  keepRemarks();
  pairing.code = code;
  pairingWanted = true;
  await pairing.tryCode();
}

async function start() {
  applyLook();
  applyLanguage();
  round.addEventListener("change", changed);
  addEventListener("hashchange", () => {
    if (codeIn(location.hash)) pairFromAddress();
    else arrive();
  });
  whenHandsOff(() => stale && paintAnew());
  // A page put away may never come back.
  addEventListener("pagehide", leaveRemarks);
  addEventListener("pageshow", (shown) => shown.persisted && takeUpRemarks(round));
  document.addEventListener("visibilitychange", () => {
    if (document.visibilityState === "hidden") keepRemarks();
  });
  try {
    await round.load();
  } catch (fault) {
    redraw(view, [
      h("h1", {}, gettext("This browser cannot keep your marks")),
      h(
        "p",
        {},
        gettext("Leave private browsing, free some space, or use another phone or a paper card."),
      ),
      h("p", {}, String(fault)),
    ]);
    return;
  }
  await takeUpRemarks(round);
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

// Asked by tests of the very page that a phone gets; the page itself uses none of these names.
export { cardHash, cardLines } from "./card.ts";
export { applies } from "./condition.ts";
export { marksOf } from "./number.ts";
export { pace } from "./pace.ts";
export { clock } from "./words.ts";
export { outbox };

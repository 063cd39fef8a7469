/**
 * Keeps a page of the office fresh, in one of two ways.
 *
 * The alerts, on every page: asked for every few seconds, whether or not the rest of the page
 * refreshes; what is new is put in its live region and read out, what is settled goes. The parts
 * marked `data-live`: the page loads itself in the background and swaps them, as often as an
 * element with `data-refresh` says, and whenever the alerts have changed. A part somebody is
 * typing in, or has typed into, is left alone.
 */

const WAIT_MS = 15_000;
const ALERTS_MS = 5_000;
const SLOWEST_MS = 30_000;
const SLOWEST_PAGE_MS = 120_000;
const KEPT = "showrun.refresh.paused";

// The sentences stand in the page, in the reader's language: `office_script.html` writes them.
const said = /** @type {HTMLElement | null} */ (document.querySelector("[data-said-every]"));

/**
 * Say a sentence of the page, with its gaps filled.
 *
 * @param {string} name
 * @param {Record<string, string | number>} [values]
 */
const sentence = (name, values = {}) =>
  (said?.dataset[name] ?? "").replace(/\{(\w+)\}/g, (_, gap) => String(values[gap] ?? ""));

/**
 * Do something again and again, one turn at a time; the function returned takes a turn at once.
 *
 * @param {() => Promise<void>} work
 * @param {() => number | null} wait how long until the next turn [ms]; null ends it
 */
function repeated(work, wait) {
  let timer = 0;
  let running = false;
  const later = () => {
    clearTimeout(timer);
    const ms = wait();
    if (ms !== null) timer = setTimeout(turn, ms);
  };
  async function turn() {
    if (running) return;
    running = true;
    clearTimeout(timer);
    try {
      await work();
    } finally {
      running = false;
      later();
    }
  }
  return { turn, later };
}

/** @param {string} from @param {Record<string, string>} [headers] */
const load = (from, headers = {}) =>
  fetch(from, {
    cache: "no-store",
    headers: { Accept: "text/html", ...headers },
    signal: AbortSignal.timeout(WAIT_MS),
  });

/** @param {string} text */
const parsed = (text) => new DOMParser().parseFromString(text, "text/html");

// --- Alerts ------------------------------------------------------------------------------------

const alerts = /** @type {HTMLElement | null} */ (document.querySelector("[data-alerts-from]"));
const plainTitle = document.title;
let tag = "";
let failures = 0;
let shutOut = false;
let lastContact = new Date();

/** @param {string} text */
function sayOfAlerts(text) {
  const words = alerts?.querySelector("[data-alerts-words]");
  if (!(words instanceof HTMLElement)) return;
  words.hidden = !text;
  if (words.textContent !== text) words.textContent = text;
}

/**
 * Put new lines into a live region and take settled ones out. A line that stays is not touched,
 * so that it is not read out again; only how long ago it was is written anew.
 *
 * @param {Element} region
 * @param {Element | null} fresh
 */
function mergeLines(region, fresh) {
  const wanted = [...(fresh?.children ?? [])];
  const signs = new Set(wanted.map((line) => line.getAttribute("data-alert")));
  for (const line of [...region.children]) {
    if (!signs.has(line.getAttribute("data-alert"))) line.remove();
  }
  let here = region.firstElementChild;
  for (const line of wanted) {
    if (here && here.getAttribute("data-alert") === line.getAttribute("data-alert")) {
      const [ago, now] = [here, line].map((one) => one.querySelector("[data-ago]"));
      if (ago && now && ago.textContent !== now.textContent) ago.textContent = now.textContent;
      here = here.nextElementSibling;
    } else {
      region.insertBefore(document.importNode(line, true), here);
    }
  }
}

/** @param {Document} fresh */
function showAlerts(fresh) {
  for (const region of alerts?.querySelectorAll("[data-alerts]") ?? []) {
    const name = region.getAttribute("data-alerts");
    mergeLines(region, fresh.querySelector(`[data-alerts="${name}"]`));
  }
  const count = fresh.querySelector("[data-alerts-title]")?.getAttribute("data-alerts-title");
  document.title = count ? `(${count}) ${plainTitle}` : plainTitle;
}

async function askForAlerts() {
  try {
    const reply = await load(
      alerts?.dataset.alertsFrom ?? "",
      tag ? { "If-None-Match": tag } : {},
    );
    if (reply.redirected || [401, 403, 404].includes(reply.status)) {
      shutOut = true;
      sayOfAlerts(sentence("saidAlertsGone"));
      return;
    }
    if (reply.status !== 304 && !reply.ok) throw new Error(`answered ${reply.status}`);
    failures = 0;
    lastContact = new Date();
    sayOfAlerts("");
    if (reply.status === 304) return;
    const known = tag;
    tag = reply.headers.get("ETag") ?? "";
    showAlerts(parsed(await reply.text()));
    if (known) page.turn();
  } catch {
    failures += 1;
    const clock = lastContact.toLocaleTimeString([], { hour: "numeric", minute: "2-digit" });
    sayOfAlerts(sentence("saidAlertsLost", { clock }));
  }
}

const asking = repeated(askForAlerts, () => {
  if (shutOut) return null;
  if (document.hidden) return SLOWEST_MS;
  return Math.min(ALERTS_MS * 2 ** failures, SLOWEST_MS);
});

// --- The rest of the page ------------------------------------------------------------------------

const button = /** @type {HTMLButtonElement | null} */ (
  document.querySelector("[data-refresh-pause]")
);
let paused = Boolean(button) && remembered();
let gone = false;

const strip = () => /** @type {HTMLElement | null} */ (document.querySelector("[data-refresh]"));
const seconds = () => Number(strip()?.dataset.refresh) || 0;
// A refused form is shown at the form's own address, which answers no plain load.
const from = () => strip()?.dataset.refreshFrom || location.pathname;
let misses = 0;

/** @returns {boolean} */
function remembered() {
  try {
    return sessionStorage.getItem(KEPT) === "yes";
  } catch {
    return false;
  }
}

/** @param {string} text @param {string} [reload] what leads to the page anew */
function say(text, reload = "") {
  const words = document.querySelector("[data-refresh-words]");
  if (!words || words.textContent === text + reload) return;
  words.textContent = text;
  if (!reload) return;
  const link = document.createElement("a");
  link.href = from();
  link.textContent = reload;
  words.append(link);
}

const sayHowOften = () =>
  say(paused ? sentence("saidPaused") : sentence("saidEvery", { seconds: seconds() }));

/**
 * Whether swapping the part would take something out of somebody's hands.
 *
 * @param {Element} part
 * @returns {boolean}
 */
function inUse(part) {
  if (document.activeElement && part.contains(document.activeElement)) return true;
  if (part.querySelector("[aria-invalid]")) return true;
  return [...part.querySelectorAll("input, textarea")].some(
    (field) =>
      (field instanceof HTMLInputElement || field instanceof HTMLTextAreaElement) &&
      field.type !== "hidden" &&
      field.value !== field.defaultValue,
  );
}

/**
 * Leave open what somebody has opened.
 *
 * @param {Element} part
 * @param {Element} next
 */
function keepOpen(part, next) {
  const sign = (/** @type {Element} */ fold) => fold.querySelector("summary")?.textContent;
  const open = new Set([...part.querySelectorAll("details[open]")].map(sign));
  for (const fold of next.querySelectorAll("details")) if (open.has(sign(fold))) fold.open = true;
}

/** @param {Document} fresh */
function swap(fresh) {
  for (const part of document.querySelectorAll("[data-live]")) {
    const next = fresh.getElementById(part.id);
    if (!next || inUse(part)) continue;
    keepOpen(part, next);
    part.replaceWith(document.importNode(next, true));
  }
}

async function refresh() {
  if (paused || gone || document.hidden || !strip()) return;
  try {
    const reply = await load(from());
    if (reply.status === 429 || reply.status >= 500) throw new Error(`answered ${reply.status}`);
    if (!reply.ok || reply.redirected) {
      gone = true;
      say(sentence("saidGone"), sentence("saidReload"));
      return;
    }
    swap(parsed(await reply.text()));
    misses = 0;
    sayHowOften();
  } catch {
    misses += 1;
    say(sentence("saidNoContact"), sentence("saidReload"));
  }
}

/** How long until the page looks again; the longer it hears nothing, the longer [ms]. */
function pageWait() {
  const ms = seconds() * 1000;
  if (paused || gone || !ms) return null;
  return Math.min(ms * 2 ** misses, Math.max(ms, SLOWEST_PAGE_MS));
}

const page = repeated(refresh, pageWait);

button?.addEventListener("click", () => {
  paused = !paused;
  gone = false;
  sayHowOften();
  button.textContent = sentence(paused ? "saidGoOn" : "saidPause");
  try {
    sessionStorage.setItem(KEPT, paused ? "yes" : "no");
  } catch {
    // Private windows may refuse; the setting then holds for this page only.
  }
  page.turn();
});

// --- Start -----------------------------------------------------------------------------------------

document.addEventListener("visibilitychange", () => {
  if (document.hidden) return;
  if (alerts && !shutOut) asking.turn();
  if (strip()) page.turn();
});
addEventListener("online", () => {
  if (alerts && !shutOut) asking.turn();
  if (strip()) page.turn();
});

if (alerts) asking.turn();
if (strip()) {
  if (button) {
    button.hidden = false;
    button.textContent = sentence(paused ? "saidGoOn" : "saidPause");
  }
  sayHowOften();
  page.later();
}

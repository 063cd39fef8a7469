/** Makes elements, and redraws a view without losing the reader's place. */

/** @typedef {Node | string | null | undefined | false} Kid */

/**
 * Make an element.
 *
 * @param {string} tag
 * @param {Record<string, any>} [props] attributes; `on…` functions listen; false leaves one out,
 *   save for `aria-…`, where it is a word
 * @param {...(Kid | Kid[])} kids
 * @returns {HTMLElement}
 */
export function h(tag, props = {}, ...kids) {
  const made = document.createElement(tag);
  for (const [name, value] of Object.entries(props)) {
    if (value === null || value === undefined) continue;
    if (name.startsWith("on")) made.addEventListener(name.slice(2), value);
    else if (name.startsWith("aria-")) made.setAttribute(name, String(value));
    else if (value !== false) made.setAttribute(name, value === true ? "" : String(value));
  }
  made.append(...kids.flat().filter(isShown));
  return made;
}

/** @param {Kid} kid @returns {kid is Node | string} */
const isShown = (kid) => kid !== null && kid !== undefined && kid !== false && kid !== "";

/**
 * Put new content in place; the focused element (by id) and open details stay as they were.
 *
 * @param {HTMLElement} place
 * @param {Kid[]} kids
 */
export function redraw(place, kids) {
  const focused = place.contains(document.activeElement) ? document.activeElement?.id : "";
  const open = new Set([...place.querySelectorAll("details[open][id]")].map((one) => one.id));
  place.replaceChildren(...kids.filter(isShown));
  for (const id of open) document.getElementById(id)?.setAttribute("open", "");
  if (focused) document.getElementById(focused)?.focus({ preventScroll: true });
}

let pressing = false;

/**
 * Whether a finger is down or text is being typed: a redraw now would lose the tap or the place.
 *
 * @returns {boolean}
 */
export const handsOn = () =>
  pressing || (document.activeElement?.matches("textarea, input[type=text]") ?? false);

/** Call back when the hands are off again. @param {() => void} free */
export function whenHandsOff(free) {
  const later = () =>
    setTimeout(() => {
      if (!handsOn()) free();
    }, 0);
  const release = () => {
    pressing = false;
    later();
  };
  addEventListener("pointerdown", () => (pressing = true), { capture: true });
  for (const end of ["click", "pointercancel", "contextmenu"]) addEventListener(end, release);
  // A finger that slid away makes no click.
  addEventListener("pointerup", () => setTimeout(release, 100), { capture: true });
  addEventListener("focusout", later);
}

/**
 * Say something to those who listen, and show it to those who look.
 *
 * @param {string} words
 */
export function say(words) {
  const live = document.getElementById("said");
  if (live) live.textContent = words;
}

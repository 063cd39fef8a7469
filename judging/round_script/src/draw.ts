/** Makes elements, and redraws a view without losing the reader's place. */

export type Kid = Node | string | null | undefined | false;

/**
 * Make an element.
 *
 * @param props attributes; `on…` functions listen; false leaves one out,
 * save for `aria-…`, where it is a word
 */
export function h(
  tag: string,
  props: Record<string, any> = {},
  ...kids: (Kid | Kid[])[]
): HTMLElement {
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

const isShown = (kid: Kid): kid is Node | string =>
  kid !== null && kid !== undefined && kid !== false && kid !== "";

/** Put new content in place; the focused element (by id) and open details stay as they were. */
export function redraw(place: HTMLElement, kids: Kid[]) {
  const focused = place.contains(document.activeElement) ? document.activeElement?.id : "";
  const open = new Set([...place.querySelectorAll("details[open][id]")].map((one) => one.id));
  patch(place, kids.filter(isShown));
  for (const id of open) document.getElementById(id)?.setAttribute("open", "");
  if (focused) document.getElementById(focused)?.focus({ preventScroll: true });
}

/** What only holds rows is gone through; a closed row stays if it looks the same. */
const FRAME = "section.part, ol.rows";
const CLOSED = "li.crit:not(.open)";

/**
 * Replace all but the closed rows that look the same, so that a long card is not laid out anew for
 * each mark. What listens on such a row knows it by its code, and so may stay with it.
 */
function patch(place: Element, kids: (Node | string)[]) {
  const old = [...place.childNodes];
  kids.forEach((kid, at) => {
    const there = old[at];
    if (there instanceof Element && kid instanceof Element) {
      if (kid.matches(CLOSED) && there.isEqualNode(kid)) return;
      if (kid.matches(FRAME) && there.matches(FRAME) && kid.tagName === there.tagName) {
        for (const { name, value } of [...kid.attributes]) there.setAttribute(name, value);
        patch(there, [...kid.childNodes]);
        return;
      }
    }
    if (there) there.replaceWith(kid);
    else place.append(kid);
  });
  for (const rest of old.slice(kids.length)) rest.remove();
}

let pressing = false;

/**
 * Whether a finger is down or text is being typed: a redraw now would lose the tap or the place.
 */
export const handsOn = (): boolean =>
  pressing || (document.activeElement?.matches("textarea, input[type=text]") ?? false);

/** Call back when the hands are off again. */
export function whenHandsOff(free: () => void) {
  const later = () =>
    setTimeout(() => {
      if (!handsOn()) free();
    }, 0);
  const release = () => {
    pressing = false;
    later();
  };
  let slid: ReturnType<typeof setTimeout> | undefined;
  const press = () => {
    // What the last tap left running must not end this one.
    clearTimeout(slid);
    pressing = true;
  };
  addEventListener("pointerdown", press, { capture: true });
  for (const end of ["click", "pointercancel", "contextmenu"]) addEventListener(end, release);
  // A finger that slid away makes no click.
  addEventListener("pointerup", () => (slid = setTimeout(release, 100)), { capture: true });
  addEventListener("focusout", later);
}

/** Say something to those who listen, and show it to those who look. */
export function say(words: string | Kid[]) {
  const live = document.getElementById("said");
  live?.replaceChildren(...[words].flat().filter(isShown));
}

/**
 * Moves spots on the camp plan, by finger, mouse or arrow keys. The table below the plan is what
 * is saved: a move writes the new place into it, and a place typed there moves the spot.
 */

const STEP_FT = 5;
const FINE_FT = 1;
const ARROWS = /** @type {Record<string, [number, number]>} */ ({
  ArrowLeft: [-1, 0],
  ArrowRight: [1, 0],
  ArrowUp: [0, 1],
  ArrowDown: [0, -1],
});

const plan = /** @type {SVGSVGElement | null} */ (document.querySelector("svg[data-camp]"));
const form = /** @type {HTMLFormElement | null} */ (document.querySelector("#camp-spots"));
const said = document.querySelector("[data-camp-said]");
const unsaved = document.querySelector("[data-camp-unsaved]");
let saving = false;

/** @typedef {{ shape: SVGGElement, x: HTMLInputElement, y: HTMLInputElement, from: DOMPoint }} Spot */

/** @returns {Map<SVGGElement, Spot>} */
function readSpots() {
  const found = new Map();
  for (const shape of plan?.querySelectorAll("[data-spot]") ?? []) {
    const row = form?.querySelector(`[data-row="${shape.getAttribute("data-spot")}"]`);
    const x = row?.querySelector('input[name$="-x_ft"]:not([type=hidden])');
    const y = row?.querySelector('input[name$="-y_ft"]:not([type=hidden])');
    if (!(x instanceof HTMLInputElement) || !(y instanceof HTMLInputElement)) continue;
    // Where the plan draws it: a save that was refused shows the fields as they were typed.
    const [was_x, was_y] = [x, y].map((field) => {
      const kept = row?.querySelector(`input[name="initial-${field.name}"]`);
      return Number(kept instanceof HTMLInputElement ? kept.value : field.defaultValue);
    });
    found.set(shape, { shape, x, y, from: new DOMPoint(was_x, was_y) });
  }
  return found;
}

const spots = readSpots();

/** Draw a spot where its fields say. @param {Spot} spot */
function place({ shape, x, y, from }) {
  const [east, north] = [Number(x.value) - from.x, Number(y.value) - from.y];
  shape.setAttribute("transform", `translate(${east} ${-north})`);
  const moved = east !== 0 || north !== 0;
  shape.classList.toggle("moved", moved);
  if (unsaved) unsaved.textContent = isChanged() ? "Not saved yet." : "";
}

const isChanged = () =>
  [...spots.values()].some(
    ({ x, y, from }) => Number(x.value) !== from.x || Number(y.value) !== from.y,
  );

/** @param {Spot} spot @param {number} x @param {number} y */
function move(spot, x, y) {
  spot.x.value = String(Math.round(x * 10) / 10);
  spot.y.value = String(Math.round(y * 10) / 10);
  place(spot);
}

/** @param {Spot} spot */
function tell({ shape, x, y }) {
  const number = shape.getAttribute("data-spot");
  if (said) said.textContent = `Spot ${number}: x ${x.value}, y ${y.value}. Not saved yet.`;
}

/** Where on the ground the pointer is. @param {PointerEvent} event */
function ground(event) {
  const matrix = plan?.getScreenCTM();
  return matrix
    ? new DOMPoint(event.clientX, event.clientY).matrixTransform(matrix.inverse())
    : new DOMPoint();
}

/** @param {Spot} spot @param {PointerEvent} down */
function drag(spot, down) {
  if (down.button !== 0) return;
  const { shape } = spot;
  const start = ground(down);
  const [x, y] = [Number(spot.x.value), Number(spot.y.value)];
  shape.setPointerCapture(down.pointerId);
  /** @param {PointerEvent} event */
  const follow = (event) => {
    const here = ground(event);
    move(spot, Math.round(x + here.x - start.x), Math.round(y - (here.y - start.y)));
  };
  const stop = () => {
    shape.removeEventListener("pointermove", follow);
    shape.removeEventListener("pointerup", stop);
    shape.removeEventListener("pointercancel", stop);
    if (shape.classList.contains("moved")) tell(spot);
  };
  shape.addEventListener("pointermove", follow);
  shape.addEventListener("pointerup", stop);
  shape.addEventListener("pointercancel", stop);
}

/** @param {Spot} spot @param {KeyboardEvent} event */
function step(spot, event) {
  const way = ARROWS[event.key];
  if (!way || event.altKey || event.ctrlKey || event.metaKey) return;
  event.preventDefault();
  const feet = event.shiftKey ? FINE_FT : STEP_FT;
  move(spot, Number(spot.x.value) + way[0] * feet, Number(spot.y.value) + way[1] * feet);
  tell(spot);
}

for (const spot of spots.values()) {
  spot.shape.addEventListener("pointerdown", (event) => drag(spot, event));
  spot.shape.addEventListener("keydown", (event) => step(spot, event));
  for (const field of [spot.x, spot.y]) field.addEventListener("input", () => place(spot));
  place(spot);
}
form?.addEventListener("submit", () => {
  saving = true;
});
addEventListener("beforeunload", (leaving) => {
  if (!saving && isChanged()) leaving.preventDefault();
});
const hint = /** @type {HTMLElement | null} */ (document.querySelector("[data-camp-hint]"));
if (hint && spots.size) hint.hidden = false;

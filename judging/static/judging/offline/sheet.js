/** A dialog that comes up from the foot of the page. */

import { h } from "./draw.js";

/** @typedef {import("./draw.js").Kid} Kid */

/**
 * Open a sheet over the page.
 *
 * @param {object} given
 * @param {string} given.id of its title, and of the sheet with "-sheet" behind it
 * @param {string} given.title
 * @param {string} [given.kind] a class more
 * @param {(close: () => void) => (Kid | Kid[])[]} given.draw what is under the title
 * @returns {HTMLDialogElement}
 */
export function openSheet({ id, title, kind = "", draw }) {
  const close = () => {
    dialog.close();
    dialog.remove();
  };
  const dialog = /** @type {HTMLDialogElement} */ (
    h(
      "dialog",
      { class: `sheet ${kind}`, id: `${id}-sheet`, "aria-labelledby": id, oncancel: close },
      // Focus on the title: the reader starts at the top, whatever can be tapped further down.
      h("h2", { id, tabindex: -1, autofocus: true }, title),
      ...draw(close),
    )
  );
  document.body.append(dialog);
  dialog.showModal();
  return dialog;
}

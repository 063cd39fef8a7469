/** A dialog that comes up from the foot of the page. */

import { h } from "./draw.ts";
import type { Kid } from "./draw.ts";

export interface Sheet {
  /** Of its title, and of the sheet with "-sheet" behind it. */
  id: string;
  title: Kid | Kid[];
  /** A class more. */
  kind?: string;
  /** What is under the title. */
  draw: (close: () => void) => (Kid | Kid[])[];
}

/** Open a sheet over the page. */
export function openSheet({ id, title, kind = "", draw }: Sheet): HTMLDialogElement {
  const close = () => {
    dialog.close();
    dialog.remove();
  };
  const dialog = h(
    "dialog",
    { class: `sheet ${kind}`, id: `${id}-sheet`, "aria-labelledby": id, oncancel: close },
    // Focus on the title: the reader starts at the top, whatever can be tapped further down.
    h("h2", { id, tabindex: -1, autofocus: true }, title),
    ...draw(close),
  ) as HTMLDialogElement;
  document.body.append(dialog);
  dialog.showModal();
  return dialog;
}

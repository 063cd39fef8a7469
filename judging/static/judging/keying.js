/**
 * On a form marked `data-next-on-enter`, Enter goes on to the next field, as on a keypad;
 * on its button it sends the form. Without this script Enter sends the form from any row.
 */

const FIELDS = "input:not([type=hidden]), select, textarea, button";

document.addEventListener("keydown", (event) => {
  const field = event.target;
  if (event.key !== "Enter" || event.shiftKey || !(field instanceof HTMLElement)) return;
  const form = field.closest("form[data-next-on-enter]");
  if (!form || !field.matches("input, select, textarea")) return;
  event.preventDefault();
  const fields = [...form.querySelectorAll(FIELDS)];
  const next = fields[fields.indexOf(field) + 1];
  if (next instanceof HTMLElement) next.focus();
  if (next instanceof HTMLInputElement) next.select();
});

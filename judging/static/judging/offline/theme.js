/** How the page looks on this phone: light, dark or full sun, and the size of its letters. */

export const THEMES = /** @type {[string, string][]} */ ([
  ["auto", "As the phone"],
  ["light", "Light"],
  ["dark", "Dark"],
  ["sunlight", "Sunlight"],
]);
export const SIZES = /** @type {[string, string][]} */ ([
  ["normal", "Normal"],
  ["large", "Large"],
  ["largest", "Largest"],
]);

const dark = matchMedia("(prefers-color-scheme: dark)");

/** @param {string} name @param {string} otherwise */
function kept(name, otherwise) {
  try {
    return localStorage.getItem(name) ?? otherwise;
  } catch {
    return otherwise;
  }
}

/** @returns {{theme: string, size: string}} */
export const look = () => ({
  theme: kept("round-theme", "auto"),
  size: kept("round-size", "normal"),
});

/** Make the page look as chosen. */
export function applyLook() {
  const { theme, size } = look();
  const shown = theme === "auto" ? (dark.matches ? "dark" : "light") : theme;
  document.documentElement.dataset.theme = shown;
  // The service's stylesheet calls the sunlight setting a light.
  if (shown === "sunlight") document.documentElement.dataset.light = "sun";
  else delete document.documentElement.dataset.light;
  document.documentElement.dataset.size = size;
}

/** @param {"theme" | "size"} what @param {string} value */
export function choose(what, value) {
  try {
    localStorage.setItem(`round-${what}`, value);
  } catch {
    // Without storage the choice lasts as long as the page.
  }
  applyLook();
}

dark.addEventListener("change", applyLook);

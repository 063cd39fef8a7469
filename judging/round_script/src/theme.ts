/** How the page looks on this phone: light, dark or full sun, its letters, and for which hand. */

export const THEMES = [
  ["auto", "As the phone"],
  ["light", "Light"],
  ["dark", "Dark"],
  ["sunlight", "Sunlight"],
] as [string, string][];
export const SIZES = [
  ["normal", "Normal"],
  ["large", "Large"],
  ["largest", "Largest"],
] as [string, string][];
/** On the side of the thumb stand the keys, Undo and what else is tapped most. */
export const HANDS = [
  ["right", "Right"],
  ["left", "Left"],
] as [string, string][];

const dark = matchMedia("(prefers-color-scheme: dark)");

function kept(name: string, otherwise: string) {
  try {
    return localStorage.getItem(name) ?? otherwise;
  } catch {
    return otherwise;
  }
}

export const look = (): { theme: string; size: string; hand: string } => ({
  theme: kept("round-theme", "auto"),
  size: kept("round-size", "normal"),
  hand: kept("round-hand", "right"),
});

/** Make the page look as chosen. */
export function applyLook() {
  const { theme, size, hand } = look();
  const shown = theme === "auto" ? (dark.matches ? "dark" : "light") : theme;
  document.documentElement.dataset.theme = shown;
  // The service's stylesheet calls the sunlight setting a light.
  if (shown === "sunlight") document.documentElement.dataset.light = "sun";
  else delete document.documentElement.dataset.light;
  document.documentElement.dataset.size = size;
  document.documentElement.dataset.hand = hand;
}

export function choose(what: keyof ReturnType<typeof look>, value: string) {
  try {
    localStorage.setItem(`round-${what}`, value);
  } catch {
    // Without storage the choice lasts as long as the page.
  }
  applyLook();
}

dark.addEventListener("change", applyLook);

/** How the page looks and speaks on this phone: light, dark or full sun, letters, hand, language. */

import { gettext, known, pgettext, speak } from "./language.ts";
import type { Language } from "./language.ts";

export const themes = (): [string, string][] => [
  ["auto", gettext("As the phone")],
  ["light", pgettext("a look", "Light")],
  ["dark", pgettext("a look", "Dark")],
  ["sunlight", pgettext("a look", "Sunlight")],
];
export const sizes = (): [string, string][] => [
  ["normal", pgettext("letters", "Normal")],
  ["large", pgettext("letters", "Large")],
  ["largest", pgettext("letters", "Largest")],
];
/** On the side of the thumb stand the keys, Undo and what else is tapped most. */
export const hands = (): [string, string][] => [
  ["right", pgettext("a hand", "Right")],
  ["left", pgettext("a hand", "Left")],
];

const dark = matchMedia("(prefers-color-scheme: dark)");

function kept(name: string, otherwise: string) {
  try {
    return localStorage.getItem(`round-${name}`) ?? otherwise;
  } catch {
    return otherwise;
  }
}

export const look = (): { theme: string; size: string; hand: string } => ({
  theme: kept("theme", "auto"),
  size: kept("size", "normal"),
  hand: kept("hand", "right"),
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

function keep(what: string, value: string) {
  try {
    localStorage.setItem(`round-${what}`, value);
  } catch {
    // Without storage the choice lasts as long as the page.
  }
}

export function choose(what: keyof ReturnType<typeof look>, value: string) {
  keep(what, value);
  applyLook();
}

/** Speak as the judge chose on this phone, else as the page came, which is as the browser asks. */
export function applyLanguage() {
  const root = document.documentElement;
  const spoken = known(kept("language", "")) ?? known(root.lang) ?? "en";
  speak(spoken);
  root.lang = spoken;
}

export function chooseLanguage(code: Language) {
  keep("language", code);
  speak(code);
  document.documentElement.lang = code;
}

dark.addEventListener("change", applyLook);

/** Lets a script import a catalogue: its translations, and how its language counts. */

import { readFile } from "node:fs/promises";
import { po } from "gettext-parser";

const FORMULA = /plural=([n\d\s!=<>%&|?:()]+);?$/;

/** @returns the module a catalogue is to a script; what is not translated is left out */
export function moduleOf(text) {
  const { headers, translations } = po.parse(text);
  const formula = FORMULA.exec(headers["Plural-Forms"] ?? "")?.[1]?.trim();
  if (!formula) throw new Error("The catalogue does not say how its language counts.");
  const words = {};
  for (const [sense, messages] of Object.entries(translations)) {
    for (const { msgid, msgid_plural, msgstr } of Object.values(messages)) {
      if (!msgid || !msgstr.every(Boolean)) continue;
      words[sense ? `${sense}\u0004${msgid}` : msgid] = msgid_plural ? msgstr : msgstr[0];
    }
  }
  return `export default { words: ${JSON.stringify(words)}, plural: (n) => Number(${formula}) };`;
}

/** What esbuild is to do with them. */
export const catalogues = {
  name: "catalogues",
  setup(build) {
    build.onLoad({ filter: /\.po$/ }, async ({ path }) => ({
      contents: moduleOf(await readFile(path)),
      loader: "js",
    }));
  },
};

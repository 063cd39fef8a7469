/**
 * Builds what a phone loads: the page's script and its worker, each one file, the same bytes from
 * the same sources. Notes what they were built from, so that a stale build is seen without Node.
 */

import { createHash } from "node:crypto";
import { copyFile, readFile, readdir, writeFile } from "node:fs/promises";
import { join } from "node:path";
import { fileURLToPath } from "node:url";
import { build } from "esbuild";
import { catalogues } from "./catalogue.mjs";

const HERE = fileURLToPath(new URL(".", import.meta.url));
const OUT = process.argv[2] ?? join(HERE, "../static/judging/offline");
const NOTE = join(HERE, "built_from.json");
const BUILT = ["page.js", "worker.js", "idb-LICENSE.txt"];

const common = {
  absWorkingDir: HERE,
  bundle: true,
  charset: "utf8",
  legalComments: "none",
  logLevel: "warning",
  minify: true,
  plugins: [catalogues],
  target: "es2022",
};

const words = "Made from judging/round_script; change it there.";
await build({
  ...common,
  entryPoints: ["src/page.ts"],
  format: "esm",
  banner: { js: `/* ${words} Holds idb, under the licence in idb-LICENSE.txt. */` },
  outfile: join(OUT, "page.js"),
});
await build({
  ...common,
  entryPoints: ["src/worker.ts"],
  format: "iife",
  banner: { js: `/* ${words} */` },
  outfile: join(OUT, "worker.js"),
});
await copyFile(join(HERE, "node_modules/idb/LICENSE"), join(OUT, "idb-LICENSE.txt"));

const sources = (await readdir(join(HERE, "src"))).sort().map((name) => `src/${name}`);
const plans = [
  "../locale/es/LC_MESSAGES/djangojs.po",
  "build.mjs",
  "catalogue.mjs",
  "package-lock.json",
  "package.json",
  "tsconfig.json",
];
const hash = async (path) =>
  createHash("sha256")
    .update(await readFile(path))
    .digest("hex");
const hashes = async (folder, names) =>
  Object.fromEntries(
    await Promise.all(names.map(async (name) => [name, await hash(join(folder, name))])),
  );
const note = {
  sources: await hashes(HERE, [...plans, ...sources]),
  built: await hashes(OUT, BUILT),
};
await writeFile(NOTE, `${JSON.stringify(note, null, 2)}\n`);

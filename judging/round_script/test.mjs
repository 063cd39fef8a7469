/** Runs the unit tests by Node's own runner: each file bundled by itself into a folder thrown away. */

import { spawnSync } from "node:child_process";
import { mkdtemp, readdir, rm } from "node:fs/promises";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { fileURLToPath } from "node:url";
import { build } from "esbuild";
import { catalogues } from "./catalogue.mjs";

const HERE = fileURLToPath(new URL(".", import.meta.url));
const out = await mkdtemp(join(tmpdir(), "round-tests-"));
try {
  const names = (await readdir(join(HERE, "test"))).filter((name) => name.endsWith(".test.ts"));
  await build({
    absWorkingDir: HERE,
    bundle: true,
    entryPoints: names.map((name) => `test/${name}`),
    format: "esm",
    logLevel: "warning",
    outdir: out,
    outExtension: { ".js": ".mjs" },
    platform: "node",
    plugins: [catalogues],
    sourcemap: "inline",
  });
  const built = names.map((name) => join(out, name.replace(/\.ts$/, ".mjs")));
  const run = spawnSync(process.execPath, ["--enable-source-maps", "--test", ...built], {
    stdio: "inherit",
  });
  process.exitCode = run.status ?? 1;
} finally {
  await rm(out, { recursive: true, force: true });
}

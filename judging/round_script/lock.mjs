/** Takes out of package-lock.json what names a host: where others ask for money. */

import { readFile, writeFile } from "node:fs/promises";

const FILE = new URL("package-lock.json", import.meta.url);
const lock = JSON.parse(await readFile(FILE, "utf8"));
for (const one of Object.values(lock.packages)) {
  delete one.funding;
  delete one.resolved;
}
await writeFile(FILE, `${JSON.stringify(lock, null, 2)}\n`);

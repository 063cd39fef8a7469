import type { Condition, Rig } from "./types.ts";

/**
 * When a criterion applies to a rig; the server's rule, held to the same test vectors.
 *
 * Every fact a condition names must hold, and a fact holds when the rig's value is among
 * those listed. The empty condition holds for every rig; a list of conditions holds when
 * any of them does.
 *
 * @param facts the rig, fact by fact
 */
export function applies(condition: Condition, facts: Rig): boolean {
  if (Array.isArray(condition)) return condition.some((branch) => applies(branch, facts));
  return Object.entries(condition).every(
    ([fact, values]) => Object.hasOwn(facts, fact) && values.includes(facts[fact] ?? ""),
  );
}

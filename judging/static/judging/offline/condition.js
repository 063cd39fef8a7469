/**
 * When a criterion applies to a rig; the server's rule, held to the same test vectors.
 *
 * Every fact a condition names must hold, and a fact holds when the rig's value is among
 * those listed. The empty condition holds for every rig; a list of conditions holds when
 * any of them does.
 *
 * @param {Record<string, string[]> | Record<string, string[]>[]} condition
 * @param {Record<string, string>} facts the rig, fact by fact
 * @returns {boolean}
 */
export function applies(condition, facts) {
  if (Array.isArray(condition)) return condition.some((branch) => applies(branch, facts));
  return Object.entries(condition).every(
    ([fact, values]) => Object.hasOwn(facts, fact) && values.includes(facts[fact]),
  );
}

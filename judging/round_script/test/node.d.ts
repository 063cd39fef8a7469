/** What the unit tests use of Node; its whole library of types would reach into the page's. */

declare module "node:test" {
  export default function test(name: string, body: () => void | Promise<void>): void;
}

declare module "node:assert/strict" {
  interface Assert {
    equal(actual: unknown, expected: unknown, words?: string): void;
    deepEqual(actual: unknown, expected: unknown, words?: string): void;
    ok(value: unknown, words?: string): asserts value;
  }
  const assert: Assert;
  export default assert;
}

declare module "node:crypto" {
  export const webcrypto: Crypto;
}

declare module "node:fs" {
  export function readFileSync(path: string, encoding: "utf8"): string;
  export function readdirSync(path: string): string[];
}

declare module "node:module" {
  export function createRequire(from: string): (name: string) => any;
}

declare const process: { cwd(): string };

/** A catalogue as `catalogue.mjs` makes it while the round is built. */

declare module "*.po" {
  const catalogue: {
    /** By the English, with its sense before it; forms of a number as a list. */
    words: Record<string, string | string[]>;
    /** Which form a number takes. */
    plural: (n: number) => number;
  };
  export default catalogue;
}

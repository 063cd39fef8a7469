/** How full the phone is, for the office; never waited for. */

interface Battery {
  /** 0 to 1. */
  level: number;
}

let battery: Battery | undefined;

// Few browsers tell.
const asked = (globalThis.navigator as { getBattery?: () => Promise<Battery> }).getBattery?.();
asked?.then((found) => (battery = found)).catch(() => undefined);

/** Return how full the battery is [%], or null where the browser does not tell, or not yet. */
export function batteryPercent(): number | null {
  const percent = Math.round((battery?.level ?? Number.NaN) * 100);
  return percent >= 0 && percent <= 100 ? percent : null;
}

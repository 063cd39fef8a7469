/**
 * Finds out that the server came back from an older backup, and lines up what it lost.
 *
 * With the round the server says how many touches of this pairing it has. The phone knows how many
 * it was answered for, so a server with fewer than it ever had beside them has lost some.
 */

import { keeper } from "./keeper.ts";
import type { KeptBundle, Outcome, StoredEvent } from "./types.ts";

/** The server's code for a token it never gave, or no longer knows to have given. */
export const UNKNOWN = "device-unknown";

/** The office has shut the phone out: what it holds is still taken, and kept for the office. */
export const SHUT_OUT = "device-shut-out";

const WAITING: StoredEvent["status"][] = ["unsent", "stuck"];
const isDelivered = ({ status }: StoredEvent) => !WAITING.includes(status);

/** Write an answer of the server to this pairing onto a touch. */
export function answered(event: StoredEvent, outcome: Outcome, device: number): StoredEvent {
  const { code, reason } = outcome;
  const again = outcome.status === "duplicate";
  // Sent a second time, a touch the office holds is still held.
  const status = again && code ? "held" : outcome.status;
  // What was there already may be there under the earlier pairing.
  const moved = again ? Boolean(event.moved) : event.device !== device;
  return { ...event, status, code, reason, moved };
}

/** Line a touch up as if it had never been sent. */
export const fresh = (event: StoredEvent): StoredEvent => ({
  ...event,
  status: "unsent",
  code: "",
  reason: "",
  in_bundle: false,
});

/**
 * Compare what the server says it has with what it was sent.
 *
 * @param taken how many touches of this pairing it has
 * @param events of this pairing
 * @param agreed by how many it had more when last compared; null: whatever it says now is right,
 * because everything was just sent again. So one loss is answered once.
 */
export function compared(
  taken: number,
  events: StoredEvent[],
  agreed: number | null = 0,
): { lost: boolean; agreed: number | null } {
  const more = taken - events.filter((one) => isDelivered(one) && !one.moved).length;
  const lost = agreed !== null && more < agreed;
  return { lost, agreed: lost ? null : more };
}

/**
 * Where the server has lost touches of this pairing, line up again what any pairing delivered:
 * each goes by its own pairing's token, and the server knows those it has.
 *
 * @returns whether it has lost any
 */
export function lineUpLost(device: number): Promise<boolean> {
  return keeper.change(["facts", "events"], async (tx) => {
    const facts = tx.objectStore("facts");
    const kept = (await facts.get(`bundle-${device}`)) as KeptBundle | undefined;
    const taken = kept?.bundle.device.taken;
    // An older server does not say.
    if (taken === undefined) return false;
    const before = (await facts.get(`agreed-${device}`)) as number | null | undefined;
    const events = await tx.objectStore("events").getAll();
    const ours = events.filter((one) => one.device === device);
    const { lost, agreed } = compared(taken, ours, before);
    if (agreed !== before) await facts.put(agreed, `agreed-${device}`);
    if (lost) {
      for (const one of events.filter(isDelivered)) await tx.objectStore("events").put(fresh(one));
    }
    return lost;
  });
}

/** Photos on this phone, in a store of their own beside the touches. */

import { keeper } from "./keeper.ts";
import { reasonAgainst } from "./photo_rules.ts";
import type { Photo } from "./types.ts";

export const photosOf = (device: number): Promise<Photo[]> =>
  keeper.run((db) => db.getAllFromIndex("photos", "by_device", device));

/**
 * Keep a photo while there is room.
 *
 * @returns "" or why it is not kept
 */
export const addPhoto = (photo: Photo): Promise<string> =>
  keeper.change(["photos"], async (tx) => {
    const held = await tx.objectStore("photos").getAll();
    const reason = reasonAgainst(held, photo.jpeg?.byteLength ?? 0);
    if (!reason) await tx.objectStore("photos").put(photo);
    return reason;
  });

/** Note what became of a photo; one that was removed meanwhile stays removed. */
export const notePhoto = (id: string, more: Partial<Photo>): Promise<void> =>
  keeper.change(["photos"], async (tx) => {
    const photo = await tx.objectStore("photos").get(id);
    if (photo) await tx.objectStore("photos").put({ ...photo, ...more });
  });

export const removePhoto = (id: string): Promise<void> =>
  keeper.change(["photos"], async (tx) => {
    await tx.objectStore("photos").delete(id);
  });

/** Takes a photo and makes it small: drawn anew, so that nothing a camera notes leaves the phone. */

import { fitted, smallEnough } from "./photo_rules.ts";

const THUMB_PX = 160;

/** Stays while the camera is open, however often the page is drawn meanwhile. */
let camera: HTMLInputElement | undefined;

/** Open the camera; the picture taken comes back later, or never. */
export function takePicture(took: (file: File) => void) {
  camera?.remove();
  camera = document.createElement("input");
  Object.assign(camera, { type: "file", accept: "image/*", hidden: true });
  camera.setAttribute("capture", "environment");
  const input = camera;
  input.addEventListener("change", () => {
    const [file] = input.files ?? [];
    if (file) took(file);
  });
  document.body.append(input);
  input.click();
}

/**
 * Draw a picture anew, small.
 *
 * @param most the longer side [px]
 */
export async function makeSmall(
  file: Blob,
  most: number,
): Promise<{ jpeg: ArrayBuffer; thumb: string }> {
  const picture = await createImageBitmap(file);
  try {
    const canvas = drawn(picture, most);
    const blob = await smallEnough((quality) => encoded(canvas, quality));
    const thumb = drawn(picture, THUMB_PX).toDataURL("image/jpeg", 0.6);
    return { jpeg: await blob.arrayBuffer(), thumb };
  } finally {
    picture.close();
  }
}

function drawn(picture: ImageBitmap, most: number): HTMLCanvasElement {
  const canvas = document.createElement("canvas");
  [canvas.width, canvas.height] = fitted(picture.width, picture.height, most);
  const pen = canvas.getContext("2d");
  if (!pen) throw new Error("This browser cannot draw.");
  pen.drawImage(picture, 0, 0, canvas.width, canvas.height);
  return canvas;
}

const encoded = (canvas: HTMLCanvasElement, quality: number): Promise<Blob> =>
  new Promise((keep, fail) =>
    canvas.toBlob(
      (blob) => (blob ? keep(blob) : fail(new Error("This picture cannot be kept."))),
      "image/jpeg",
      quality,
    ),
  );

/** Return a picture as an address the page may show. */
export const asAddress = (picture: Blob): Promise<string> =>
  new Promise((keep, fail) => {
    const reader = new FileReader();
    reader.onload = () => keep(String(reader.result));
    reader.onerror = () => fail(reader.error);
    reader.readAsDataURL(picture);
  });

/** Photos of a wagon and of its rows: a memory aid, beside the marks and never one. */

import { h, say } from "./draw.ts";
import { gettext, ngettext } from "./language.ts";
import { newId } from "./outbox.ts";
import { asAddress, makeSmall, takePicture } from "./photo_take.ts";
import { idsOn } from "./photo_rules.ts";
import { fetchPicture } from "./reach.ts";
import { reasonWords } from "./reasons.ts";
import { openSheet } from "./sheet.ts";
import type { Round } from "./round.ts";
import type { Photo, Wagon } from "./types.ts";

export const memoryWords = () =>
  gettext("A photo helps your memory. It is never part of a score. Keep people out of it.");

/** Why the last one was not kept, by wagon and row. */
const faults: Map<string, string> = new Map();

const place = (wagon: Wagon, criterion: string) => `${wagon.entry.id} ${criterion}`;
const onServer = (wagon: Wagon) => wagon.visits.flatMap(({ photos }) => photos);

/** The button that opens the camera; none where the server takes no photos. */
export function drawCamera(
  round: Round,
  wagon: Wagon,
  { criterion = "", name = "", paint }: { criterion?: string; name?: string; paint: () => void },
): HTMLElement | null {
  if (!round.bundle?.photos.per_card) return null;
  return h(
    "button",
    {
      type: "button",
      class: "camera",
      "data-camera": criterion,
      "aria-label": name ? gettext("Photo of {row}", { row: name }) : gettext("Photo of this wagon"),
      onclick: () => take(round, wagon, criterion, paint),
    },
    gettext("Photo"),
  );
}

function take(round: Round, wagon: Wagon, criterion: string, paint: () => void) {
  const { per_card = 0 } = round.bundle?.photos ?? {};
  const there = idsOn(wagon.entry.id, round.album.photos, onServer(wagon)).size;
  const fail = (reason: string) => {
    if (reason) faults.set(place(wagon, criterion), reason);
    else faults.delete(place(wagon, criterion));
    say(reason || gettext("Photo kept."));
    paint();
  };
  if (there >= per_card) {
    fail(
      ngettext(
        "This card has its {n} photo. Remove one that is not sent yet, or ask the office.",
        "This card has its {n} photos. Remove one that is not sent yet, or ask the office.",
        per_card,
      ),
    );
    return;
  }
  takePicture((file) =>
    keep(round, wagon, criterion, file).then(fail, () =>
      fail(
        gettext("This photo could not be kept. The marks are safe; try again, or go on without."),
      ),
    ),
  );
}

/** @returns "" or why it is not kept */
async function keep(round: Round, wagon: Wagon, criterion: string, file: File): Promise<string> {
  const { device, bundle } = round;
  if (!device) return gettext("This phone is not paired.");
  const small = await makeSmall(file, bundle?.photos.max_px ?? 0);
  const about = { id: newId(), device: device.id, entry: wagon.entry.id, criterion };
  return round.album.add({ ...about, ...small, status: "unsent", reason: "", seen: false });
}

/** The photos of a row, or of the wagon as a whole. */
export function drawPhotos(
  round: Round,
  wagon: Wagon,
  { criterion = "", name = "" }: { criterion?: string; name?: string },
): HTMLElement | null {
  const here = round.album.photos.filter(
    (one) => one.entry === wagon.entry.id && one.criterion === criterion,
  );
  const held = new Set(round.album.photos.map(({ id }) => id));
  const there = onServer(wagon).filter((one) => one.criterion === criterion && !held.has(one.id));
  const fault = faults.get(place(wagon, criterion));
  if (!here.length && !there.length && !fault) return null;
  const title = (at: number) =>
    name
      ? gettext("Photo {n} of {row}", { n: at, row: name })
      : gettext("Photo {n} of this wagon", { n: at });
  return h(
    "div",
    { class: "photos", "data-photos": criterion },
    fault ? h("p", { class: "fault", role: "alert" }, fault) : null,
    h(
      "ul",
      {
        "aria-label": name ? gettext("Photos of {row}", { row: name }) : gettext("Photos of this wagon"),
      },
      here.map((photo, at) => drawThumb(round, photo, title(at + 1))),
      there.map(({ id }, at) =>
        drawThumb(round, { id, status: "sent" }, title(here.length + at + 1)),
      ),
    ),
  );
}

type Shown = Pick<Photo, "id" | "status"> & Partial<Photo>;

const statusWords = (status: Photo["status"]) =>
  ({
    unsent: gettext("waits to be sent"),
    refused: gettext("not taken"),
    sent: gettext("the office has it"),
  })[status];

const statusSentence = (status: Photo["status"]) =>
  ({
    unsent: gettext("It waits to be sent, after the marks."),
    refused: gettext("The office could not take it."),
    sent: gettext("The office has it."),
  })[status];

function drawThumb(round: Round, photo: Shown, title: string) {
  const { id, thumb, status } = photo;
  return h(
    "li",
    {},
    h(
      "button",
      {
        type: "button",
        class: `thumb ${status}`,
        "data-photo": id,
        "aria-label": `${title}: ${statusWords(status)}`,
        onclick: () => openPhoto(round, photo, title),
      },
      thumb ? h("img", { src: thumb, alt: "" }) : h("span", {}, gettext("Photo")),
      h(
        "span",
        { class: "sign", "aria-hidden": "true" },
        status === "sent" ? "✓" : status === "unsent" ? "●" : "!",
      ),
    ),
  );
}

function openPhoto(round: Round, photo: Shown, title: string) {
  const { id, status, code = "", reason = "", thumb } = photo;
  const picture = h("img", {
    class: "picture",
    src: thumb || null,
    alt: title,
  }) as HTMLImageElement;
  const note = h("p", { role: "status" });
  show(round, photo)
    .then((address) => (picture.src = address))
    .catch(() => (note.textContent = gettext("To show it larger this phone needs a signal.")));
  openSheet({
    id: "photo-title",
    title,
    kind: "calm",
    draw: (close) => {
      const act = (words: string, does: () => Promise<void>) =>
        h(
          "button",
          { type: "button", class: "plainly", onclick: () => does().then(close, close) },
          words,
        );
      return [
        picture,
        h("p", {}, statusSentence(status), status === "refused" ? ` ${reasonWords(code, reason)}` : ""),
        note,
        h("p", { class: "safety" }, memoryWords()),
        h(
          "div",
          { class: "pair" },
          h("button", { type: "button", class: "big", onclick: close }, gettext("Close")),
          status === "refused" ? act(gettext("Send it again"), () => round.album.again(id)) : null,
          status === "sent" ? null : act(gettext("Remove photo"), () => round.album.remove(id)),
        ),
      ];
    },
  });
}

/** Return the whole picture, kept here or fetched from the office. */
async function show(round: Round, { id, jpeg }: Shown): Promise<string> {
  if (jpeg) return asAddress(new Blob([jpeg], { type: "image/jpeg" }));
  return asAddress(await fetchPicture(`/api/v1/device/photos/${id}`, round.device?.token ?? ""));
}

/** A small round for the unit tests: one show, one card, two wagons. */

import type {
  Bundle,
  CardState,
  Criterion,
  Entry,
  Mark,
  Rig,
  Section,
  StoredEvent,
  Touch,
  Visit,
} from "../src/types.ts";

export const DROP: Rig = { tongue: "drop", hitch: "four" };
export const STIFF: Rig = { tongue: "stiff", hitch: "four" };

export const marked = (value: string): Mark => ({ state: "marked", value });

export const row = (code: string, given: Partial<Criterion> = {}): Criterion => ({
  code,
  name: code,
  guidance: "",
  danger: "",
  max_mark: "10",
  step: "1",
  applies: {},
  parts: [],
  form: "points",
  ...given,
});

/** The gear has a row for every rig and one for a drop tongue alone. */
export const GEAR: Section = {
  code: "gear",
  name: "Running gear",
  points: "20",
  minutes: 6,
  form: "points",
  all_or_nothing: false,
  quick_phrases: [],
  criteria: [row("wheels"), row("bolt", { applies: { tongue: ["drop"] } })],
};

const empty: CardState = {
  handed_in: false,
  hash: "",
  marks: {},
  aside: {},
  earlier: [],
  remarks: {},
};

export const entry = (id: number, rig: Rig = DROP): Entry => ({
  id,
  number: id,
  wagon_name: `Wagon ${id}`,
  outfit: "",
  rig,
  rig_words: "as entered",
  rig_entered: rig,
  spot: null,
});

export const visit = (
  id: number,
  card: Partial<CardState> = {},
  more: Partial<Visit> = {},
): Visit => ({
  starts_at: null,
  ends_at: null,
  practice: false,
  scratched: false,
  sections: ["gear"],
  entry: entry(id),
  rig_report: null,
  photos: [],
  card: { ...empty, ...card },
  ...more,
});

export const bundle = (visits: Visit[], more: Partial<Bundle> = {}): Bundle => ({
  schema: 2,
  server_time: "2031-05-03T09:00:00+00:00",
  show: {
    slug: "kettle",
    name: "Kettle show",
    ground: "",
    zone: "UTC",
    cautions: [],
    policies: [],
    judging_starts_at: "2031-05-03T09:00:00+00:00",
  },
  judge: { code: "J1", name: "Judge One" },
  device: { id: 1, label: "", scribe: "", taken: 0 },
  card: { name: "Card", version: 1, notice: "", frozen: true, sections: [GEAR] },
  rig_facts: [
    {
      fact: "tongue",
      words: "Tongue",
      values: [
        { value: "drop", words: "drop tongue" },
        { value: "stiff", words: "stiff tongue" },
      ],
    },
  ],
  handbook: { parts: {}, drawings: {} },
  policies_by_class: [],
  visits,
  questions: [],
  announcements: [],
  photos: { per_card: 0, max_px: 0 },
  ...more,
});

/** A touch as the phone keeps it; the count orders it. */
export const kept = (seq: number, touch: Touch, more: Partial<StoredEvent> = {}): StoredEvent => ({
  id: `touch-${seq}`,
  device: 1,
  seq,
  status: "unsent",
  body: { id: `touch-${seq}`, seq, at: "2031-05-03T09:05:00Z", ...touch },
  code: "",
  reason: "",
  in_bundle: false,
  ...more,
});

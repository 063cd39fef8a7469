/**
 * The shapes the round works with. What comes over the wire is taken from `api.d.ts`, which is
 * generated from the service's API description; only what the phone makes of it is added here.
 */

import type { components } from "./api.d.ts";
import type { SentRound } from "./bundle.ts";

type Wire = components["schemas"];

export type Mark = Wire["MarkOut"];
export type MarkState = Mark["state"];
export type Form = Wire["FormEnum"];
/** Fact by fact. */
export type Rig = Wire["RoundEntryOut"]["rig"];
export type Condition = Wire["RoundRowOut"]["applies"];

/** One row of the card; it is judged in the form of its section. */
export type Criterion = Wire["RoundRowOut"] & { form: Form };
export type Section = Omit<Wire["RoundSectionOut"], "criteria"> & { criteria: Criterion[] };
export type Scorecard = Omit<Wire["RoundCardOut"], "sections"> & { sections: Section[] };

export type RigFact = Wire["RigFactOut"];
export type Part = Wire["PartOut"];
export type Drawing = Wire["DrawingOut"];
export type Handbook = Wire["HandbookOut"];
export type StateWords = Wire["StateWordsOut"];
export type RigReport = Wire["RoundRigReportOut"];
export type Entry = Wire["RoundEntryOut"];
export type CardState = Wire["CardStateOut"];
export type Visit = Wire["RoundVisitOut"];
export type Question = Wire["RoundQuestionOut"];
export type TimeChange = Wire["TimeChangeOut"];
export type Announcement = Wire["RoundAnnouncementOut"];

/** What the server gives a phone, whole, with each row told its form. */
export type Bundle = Omit<Wire["RoundOut"], "card"> & { card: Scorecard };

/** What a judge did, before it has a number and a time. */
export interface Touch {
  kind: "open" | "mark" | "clear" | "remark" | "concern" | "hand_in" | "answer" | "rig";
  entry?: number;
  criterion?: string | null;
  state?: MarkState;
  value?: string | null;
  section?: string;
  text?: string;
  /** All five facts. */
  rig?: Rig;
  degree?: "stop" | "mend" | "note";
  question?: number;
  verdict?: Verdict;
  /** Of a hand-in: the card's own hash as the judge saw it; left out where it cannot be made. */
  hash?: string;
  /** Who keyed for the judge; left out where the judge did. */
  keyed_by?: string;
}

/** `unsure`: the judge cannot recall. */
export type Verdict = "confirm" | "correct" | "unsure";

/** As it is sent: the API reads events one by one, so its description leaves them open. */
export type RoundEvent = Touch & { id: string; seq: number; at: string };

export interface StoredEvent {
  id: string;
  device: number;
  seq: number;
  status: "unsent" | "stuck" | Outcome["status"];
  body: RoundEvent;
  /** Why it is held or stuck. */
  code: string;
  reason: string;
  /** The kept bundle was made by the server after it had this event. */
  in_bundle: boolean;
  /** Taken over from an earlier pairing, under which the server may have it. */
  moved?: boolean;
  /** Of a hand-in: the marks the judge signed. They stay on the phone. */
  signed?: Record<string, Mark>;
}

/** A photo of a row, or of the wagon as a whole. */
export interface Photo {
  id: string;
  device: number;
  entry: number;
  /** Of a row, or empty. */
  criterion: string;
  /** A JPEG without what a camera writes beside a picture; null once the office has it. */
  jpeg: ArrayBuffer | null;
  /** A small picture of it, as an address the page may show. */
  thumb: string;
  status: "unsent" | "refused" | "sent";
  /** Why the server did not take it: its code, if it gave one, and its sentence. */
  code?: string;
  reason: string;
  /** A bundle has named it: one that no longer does means that the office removed it. */
  seen: boolean;
}

/** A pairing this phone has or had. */
export interface DeviceRecord {
  id: number;
  token: string;
  label: string;
  judge: Wire["CodeNameOut"];
  show: Wire["SlugNameOut"];
  next_seq: number;
  /** Empty, or the server's code for no longer knowing this phone. */
  shut: string;
}

/** Whose phone a code makes. */
export type Owner = Pick<DeviceRecord, "judge" | "show">;

export type Outcome = Wire["OutcomeOut"];
export type CardReceipt = Wire["CardReceiptOut"];
/** What was last fetched, as it was sent. */
export interface KeptBundle {
  etag: string;
  bundle: SentRound;
  /** It was asked for in; none: English. */
  language?: string;
}

/** One entry as this judge sees it: all the judge's sections of it. */
export interface Wagon {
  entry: Entry;
  practice: boolean;
  /** Out of the show: nothing is marked any more, and what was marked counts nowhere. */
  scratched: boolean;
  visits: Visit[];
  /** As this judge has it. */
  rig: Rig;
  rig_words: string;
  /** What this judge last said of the rig. */
  report: RigReport | null;
  sections: { section: Section; rows: Criterion[] }[];
  card: CardState;
  /** Ids of the concerns raised from this phone. */
  concerns: string[];
}

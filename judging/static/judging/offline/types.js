/**
 * The shapes the round works with. Only comments: nothing here runs.
 *
 * @typedef {"marked" | "not_applicable" | "not_inspected"} MarkState
 * @typedef {{state: MarkState, value: string | null}} Mark
 *
 * @typedef {object} Criterion
 * @property {string} code
 * @property {string} name
 * @property {string} guidance
 * @property {string} danger "A", "B", "C" or ""
 * @property {string} max_mark plain decimal
 * @property {string} step plain decimal
 * @property {Record<string, string[]>} applies
 *
 * @typedef {object} Section
 * @property {string} code
 * @property {string} name
 * @property {string} points
 * @property {number} minutes
 * @property {string[]} quick_phrases
 * @property {Criterion[]} criteria
 *
 * @typedef {{name: string, version: number, frozen: boolean, sections: Section[]}} Scorecard
 *
 * @typedef {object} Entry
 * @property {number} id
 * @property {number | null} number
 * @property {string} wagon_name
 * @property {string} outfit
 * @property {Record<string, string>} rig
 * @property {string} rig_words
 * @property {number | null} spot
 *
 * @typedef {{handed_in: boolean, marks: Record<string, Mark>, remarks: Record<string, string>}} CardState
 *
 * @typedef {object} Visit
 * @property {string | null} starts_at
 * @property {string | null} ends_at
 * @property {string[]} sections
 * @property {Entry} entry
 * @property {CardState} card
 *
 * @typedef {object} Question
 * @property {number} id
 * @property {number} entry
 * @property {string} criterion
 * @property {string} value
 * @property {string} expected
 * @property {string} sentence
 * @property {string} state
 *
 * @typedef {object} Bundle What the server gives a phone, as in `GET /api/v1/device/round`.
 * @property {number} schema
 * @property {string} server_time
 * @property {{slug: string, name: string, ground: string, zone: string, cautions: unknown, policies: unknown}} show
 * @property {{code: string, name: string}} judge
 * @property {{id: number, label: string}} device
 * @property {Scorecard} card
 * @property {Visit[]} visits
 * @property {Question[]} questions
 *
 * @typedef {object} Touch What a judge did, before it has a number and a time.
 * @property {"mark" | "clear" | "remark" | "concern" | "hand_in" | "answer"} kind
 * @property {number} [entry]
 * @property {string | null} [criterion]
 * @property {MarkState} [state]
 * @property {string | null} [value]
 * @property {string} [section]
 * @property {string} [text]
 * @property {"stop" | "mend" | "note"} [degree]
 * @property {number} [question]
 * @property {"confirm" | "correct"} [verdict]
 *
 * @typedef {Touch & {id: string, seq: number, at: string}} RoundEvent As it is sent.
 *
 * @typedef {object} StoredEvent
 * @property {string} id
 * @property {number} device
 * @property {number} seq
 * @property {"unsent" | "stuck" | "applied" | "duplicate" | "held"} status
 * @property {RoundEvent} body
 * @property {string} code why it is held or stuck
 * @property {string} reason
 * @property {boolean} in_bundle the kept bundle was made by the server after it had this event
 *
 * @typedef {object} DeviceRecord A pairing this phone has or had.
 * @property {number} id
 * @property {string} token
 * @property {string} label
 * @property {{code: string, name: string}} judge
 * @property {{slug: string, name: string}} show
 * @property {number} next_seq
 * @property {string} shut "" or the server's code for no longer knowing this phone
 *
 * @typedef {{id: string, status: "applied" | "duplicate" | "held", code: string, reason: string}} Outcome
 * @typedef {{hash: string, marks: number, handed_in: boolean}} CardReceipt
 * @typedef {{etag: string, bundle: Bundle}} KeptBundle
 *
 * @typedef {object} Wagon One entry as this judge sees it: all the judge's sections of it.
 * @property {Entry} entry
 * @property {Visit[]} visits
 * @property {{section: Section, rows: Criterion[]}[]} sections
 * @property {CardState} card
 * @property {string[]} concerns ids of the concerns raised from this phone
 */
export {};

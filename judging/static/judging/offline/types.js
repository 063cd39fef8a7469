/**
 * The shapes the round works with. Only comments: nothing here runs.
 *
 * @typedef {"marked" | "not_applicable" | "not_inspected"} MarkState
 * @typedef {{state: MarkState, value: string | null}} Mark
 *
 * @typedef {"points" | "pass_fail" | "placings"} Form
 * @typedef {Record<string, string>} Rig fact by fact
 * @typedef {Record<string, string[]> | Record<string, string[]>[]} Condition
 *
 * @typedef {object} Criterion
 * @property {string} code
 * @property {string} name
 * @property {string} guidance
 * @property {string} danger "A", "B", "C" or ""
 * @property {string} max_mark plain decimal
 * @property {string} step plain decimal
 * @property {Condition} applies
 * @property {string[]} parts codes of the handbook's parts
 * @property {Form} form its section's
 *
 * @typedef {object} Section
 * @property {string} code
 * @property {string} name
 * @property {string} points
 * @property {number} minutes
 * @property {Form} form
 * @property {boolean} all_or_nothing pass or fail: one row failed costs the whole section
 * @property {string[]} quick_phrases
 * @property {Criterion[]} criteria
 *
 * @typedef {object} Scorecard
 * @property {string} name
 * @property {number} version
 * @property {string} notice
 * @property {boolean} frozen
 * @property {Section[]} sections
 *
 * @typedef {{fact: string, words: string, values: {value: string, words: string}[]}} RigFact
 *
 * @typedef {object} Part One part in the handbook.
 * @property {string} name
 * @property {string} group
 * @property {string} job
 * @property {string} look
 * @property {string} fails
 * @property {string} danger "A", "B" or "C"
 * @property {string} rigs in words
 * @property {string} drawing name of a drawing, or ""
 * @property {number} mark its number in the drawing, or 0
 *
 * @typedef {{title: string, alt: string, url: string}} Drawing
 * @typedef {{parts: Record<string, Part>, drawings: Record<string, Drawing>}} Handbook
 * @typedef {{zero: string, not_applicable: string, not_inspected: string}} StateWords
 * @typedef {object} ClassPolicies
 * @property {string} name of the class
 * @property {string[]} sections that it counts
 * @property {string[]} lines all that it declares
 * @property {StateWords} states
 * @typedef {{state: "open" | "adopted" | "declined" | "replaced", text: string, note: string}} RigReport
 *
 * @typedef {object} Entry
 * @property {number} id
 * @property {number | null} number
 * @property {string} wagon_name
 * @property {string} outfit
 * @property {Rig} rig as it stands on this judge's card
 * @property {string} rig_words
 * @property {Rig} rig_entered
 * @property {number | null} spot
 *
 * @typedef {object} CardState
 * @property {boolean} handed_in
 * @property {string} hash the server's, "" for a card not begun
 * @property {Record<string, Mark>} marks
 * @property {Record<string, Mark>} aside on rows that are not on the rig: kept, never counted
 * @property {(Mark & {code: string, name: string, form: Form})[]} earlier on rows of an earlier card
 * @property {Record<string, string>} remarks
 *
 * @typedef {object} Visit
 * @property {string | null} starts_at
 * @property {string | null} ends_at
 * @property {boolean} practice never counted
 * @property {string[]} sections
 * @property {Entry} entry
 * @property {RigReport | null} rig_report
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
 * @typedef {object} TimeChange One visit of this judge whose announced time changed.
 * @property {number} entry
 * @property {number | null} number of the wagon
 * @property {string[] | null} was start and end, null for a new visit
 * @property {string[] | null} now start and end, null for one called off
 *
 * @typedef {{number: number, at: string, reason: string, changes: TimeChange[]}} Announcement
 *
 * @typedef {object} Bundle What the server gives a phone, as in `GET /api/v1/device/round`.
 * @property {number} schema
 * @property {string} server_time
 * @property {{slug: string, name: string, ground: string, zone: string, cautions: unknown, policies: unknown, judging_starts_at: string}} show
 * @property {{code: string, name: string}} judge
 * @property {{id: number, label: string}} device
 * @property {Scorecard} card
 * @property {RigFact[]} rig_facts
 * @property {Handbook} handbook
 * @property {ClassPolicies[]} policies_by_class
 * @property {Visit[]} visits
 * @property {Question[]} questions
 * @property {Announcement[]} announcements changed times of this judge's visits
 *
 * @typedef {object} Touch What a judge did, before it has a number and a time.
 * @property {"open" | "mark" | "clear" | "remark" | "concern" | "hand_in" | "answer" | "rig"} kind
 * @property {number} [entry]
 * @property {string | null} [criterion]
 * @property {MarkState} [state]
 * @property {string | null} [value]
 * @property {string} [section]
 * @property {string} [text]
 * @property {Rig} [rig] all five facts
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
 * @property {boolean} practice
 * @property {Visit[]} visits
 * @property {Rig} rig as this judge has it
 * @property {string} rig_words
 * @property {RigReport | null} report what this judge last said of the rig
 * @property {{section: Section, rows: Criterion[]}[]} sections
 * @property {CardState} card
 * @property {string[]} concerns ids of the concerns raised from this phone
 */
export {};

"""Every kind of refusal there is, said once: its code, its status, its title, what it means.

The address of a type is `/problems/<code>`. A code is never used again for something else; a new
refusal is a new line here, and `tests/house/test_problem_types.py` holds the code to the lines.
"""

from __future__ import annotations

from dataclasses import dataclass

from showrun.language import gettext_noop as N_


@dataclass(frozen=True)
class ProblemType:
    """One kind of refusal; `status` is what the API answers it with."""

    status: int
    title: str
    meaning: str

    def uri(self, code: str) -> str:
        """Return the reference that names the type (RFC 9457, section 3.1.1)."""
        return f"/problems/{code}"


def _of(status: int, **lines: tuple[str, str]) -> dict[str, ProblemType]:
    return {
        code.replace("_", "-"): ProblemType(status, title, meaning)
        for code, (title, meaning) in lines.items()
    }


# --- The request itself: nothing of the show was looked at yet ---------------------------------
_BAD = _of(
    400,
    parse_error=(N_("Cannot be read"), "The body is no JSON, or no form, that can be read."),
    bad_key=(N_("No such key"), "The Idempotency-Key is empty, too long or holds odd letters."),
    refused=(N_("That cannot be done"), "Refused for the reason given."),
)
_WHO = _of(
    401,
    not_authenticated=(N_("Sign in first"), "Nobody is signed in, or no phone's token was sent."),
    device_unknown=(N_("Phone not paired"), "The token is none of ours: pair the phone."),
    device_shut_out=(N_("Phone shut out"), "The office shut the phone out; it may send, not read."),
)  # fmt: skip
_NOT_YOURS = _of(
    403,
    not_signed_in=(N_("Sign in first"), "Nobody is signed in."),
    permission_denied=(N_("Not allowed"), "The CSRF token is missing or wrong, or this is not a "
                       "phone."),
    not_allowed=(N_("Not yours to do"), "Your part in this show does not let you do this."),
    not_released=(N_("Not released yet"), "It is yours, but the show has not released it."),
    passkey_refused=(N_("Passkey refused"), "The passkey did not answer our question."),
)  # fmt: skip
_NOT_HERE = _of(
    404,
    not_found=(N_("Not found"), "Nothing here, or nothing that you may know of."),
    pairing_unknown=(N_("Unknown pairing code"), "No pairing code reads like this one."),
    not_your_card=(N_("Not your card"), "The judge has no card for that entry."),
)
_WIRE = {
    **_of(405, method_not_allowed=(N_("Not done here"),
        "The address does not do that; see Allow.")),
    **_of(406, not_acceptable=(N_("No such form"), "The answer cannot be given as Accept asks.")),
    **_of(
        412,
        changed_meanwhile=(N_("Changed meanwhile"),
            "Somebody changed it since you read it: read it "
                           "again, then send the new ETag as If-Match."),
    ),
    **_of(
        413,
        body_too_large=(N_("Too much at once"), "The body is larger than anything we take needs."),
        batch_too_large=(N_("Too many events at once"),
            "A batch holds fewer events than this one."),
        photo_too_large=(N_("Too large a photo"),
            "The photo has more bytes than a photo may have."),
    ),
    **_of(
        415,
        unsupported_media_type=(N_("Not sent as asked"),
            "The body's Content-Type is not taken here."),
    ),
    **_of(
        428,
        if_match_needed=(N_("If-Match needed"), "Two people may edit this: send the ETag that you "
                         "read as If-Match."),
    ),
    **_of(429, throttled=(N_("Too many requests"), "Wait as long as Retry-After says.")),
    **_of(500, server_error=(N_("A fault on our side"),
        "Something broke here; send it again later.")),
    **_of(503, unavailable=(N_("Not working just now"),
        "Nothing can be kept for the moment; what was "
                            "kept is kept. Come again after Retry-After.")),
}  # fmt: skip

# --- The show stands in the way ---------------------------------------------------------------
_STANDS_AGAINST = _of(
    409,
    not_yet=(N_("Not yet"), "Right in itself, but the show is not at that point."),
    conflict=(N_("That collides with something"), "Somebody or something else stands in the way."),
    in_progress=(N_("Still at it"), "A request with this Idempotency-Key is being answered now."),
    stale=(N_("Out of date"), "What it was made from has changed since; make it again."),
    # entries
    entries_not_open=(N_("Entries not open"), "The show does not take entries yet."),
    entered_already=(N_("Entered already"), "This wagon is in the show."),
    entry_closed=(N_("Entry closed"), "The entry is not changed any more."),
    crew_frozen=(N_("Crew list frozen"), "The contest has begun; the crew list stands."),
    form_used=(N_("Form used already"), "What this form asked for was done."),
    notice_refused=(N_("Notice refused"), "The message is not the payment provider's own."),
    role_refused=(N_("Role refused"), "The role cannot be given or taken so."),
    # cards, panel, window
    card_frozen=(N_("Card frozen"), "Judges have marked on this card; it is not edited."),
    card_in_use=(N_("Card in use"), "The card in use is not edited; make a version of it."),
    practice_marked=(N_("Practice begun"), "Judges have marked the practice wagon."),
    panel_impossible=(N_("No panel possible"),
        "No seating keeps all the rules; `short` says where."),
    no_plan=(N_("No plan"), "No rotation keeps the rules of the day."),
    rotation_faulty=(N_("Faulty rotation"), "The times found break a rule; they are not used."),
    risky=(N_("Likely to run late"), "Nine days of ten do not keep this window."),
    nothing_changes=(N_("Nothing changes"), "No announced time would change."),
    # the round
    photo_id_reused=(N_("Photo id used"), "Another photo has this id already."),
    photos_full=(N_("Enough photos"), "The card or the judge has as many photos as may be kept."),
    rig_settled=(N_("Rig settled"), "The office has settled this report already."),
    # questions
    asked_before=(N_("Asked before"), "The judge was asked this before."),
    finding_gone=(N_("Finding gone"), "The marks do not say this any more."),
    correction_proposed=(N_("Waits for a second officer"), "A correction is proposed already."),
    second_officer_needed=(N_("Second officer needed"), "Somebody else must stand by it."),
    mark_changed=(N_("Mark changed"), "The mark is not what it was when the correction was typed."),
    mark_aside=(N_("Mark set aside"), "The row does not count on the rig as it now is."),
    # results
    panel_incomplete=(N_("Panel incomplete"), "Places of the panel are not taken."),
    judge_in_conflict=(N_("Judge in conflict"), "A judge is seated at an entry they must not see."),
    incomplete=(N_("Cards missing"), "Cards are missing; `missing` names them."),
    places_incomplete=(N_("Places missing"), "A judge has not placed every entry."),
    rig_open=(N_("Rig not settled"), "A rig found other than entered is not settled."),
    method_refused=(N_("Method does not fit"),
        "The declared method cannot be used on these marks."),
    gaps_not_accepted=(N_("Missing cards not accepted"), "Nobody has accepted the missing cards."),
    marks_changed=(N_("Marks changed"), "The marks changed since; compute the result again."),
    questions_open=(N_("Questions open"), "Questions to judges are not answered."),
    signatures_missing=(N_("Signatures missing"), "A result needs two hands."),
    no_queries=(N_("No queries now"), "Queries are not taken at this time."),
    not_corrected=(N_("Not corrected"), "Nothing was corrected that the answer could name."),
    # papers, archives
    key_closed=(N_("Key closed"), "The key of a blind round is not open yet."),
    link_leads_out=(N_("Link leads out"), "A row points out of the show."),
)  # fmt: skip
_OVER = _of(
    410,
    gone=(N_("No longer valid"), "It was used up, revoked or has run out."),
    entries_closed=(N_("Entries closed"), "The show takes no more entries."),
    offer_gone=(N_("Offer gone"), "The offered place is not held any more."),
    pairing_used=(N_("Code used"), "A pairing code pairs one phone."),
    pairing_expired=(N_("Code run out"), "The pairing code has run out."),
)
_MARKS = {
    "criterion_not_on_rig": ("Row not on this rig", "The row does not apply to this rig."),
    "mark_missing": ("Mark missing", "A number is needed."),
    "mark_over_maximum": ("Mark too high", "The mark is above the row's maximum."),
    "mark_below_zero": ("Mark below zero", "No mark is below zero."),
    "mark_off_step": ("Mark off the step", "The mark is not on the row's step."),
    "place_below_first": ("No such place", "The first place is 1."),
}
_MEND = _of(
    422,
    invalid_input=(N_("Something needs mending"), "`errors` says what, field by field."),
    key_reused=(N_("Key used for something else"), "The Idempotency-Key came with another body."),
    reason_needed=(N_("A reason is needed"), "Say why; it is kept in the record."),
    criterion_not_yours=(N_("Not your row"), "The row is not among the judge's sections."),
    photo_unreadable=(N_("Photo unreadable"), "The file is no photo that can be read."),
    **_MARKS,
    no_tables=(N_("No tables"), "No tables can be drawn so."),
    list_has_faults=(N_("Faults in the list"), "Lines of the list are to be mended first."),
    unreadable_list=(N_("List unreadable"), "The file is no list that can be read."),
    archive_refused=(N_("Archive refused"), "The file is no archive that can be restored."),
)
TYPES: dict[str, ProblemType] = {
    **_BAD, **_WHO, **_NOT_YOURS, **_NOT_HERE, **_WIRE, **_STANDS_AGAINST, **_OVER, **_MEND,
}  # fmt: skip

# Where the same refusal is answered otherwise: a session is asked for without a challenge (DRF
# then says 403), and a photo too large is one field of a page's form.
ALSO = {"not-authenticated": (403,), "photo-too-large": (422,)}

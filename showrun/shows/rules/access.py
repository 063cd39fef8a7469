"""Who may do what in a show: the one table that answers it.

Whatever is not in the table is refused. A role counts only in the show it is held in;
*owner* means that the object is the person's own: the exhibitor's entry, the judge's report.
"""

from __future__ import annotations

from collections.abc import Iterable
from enum import StrEnum

from showrun.language import gettext_noop as N_


class Role(StrEnum):
    """The parts people play in one show."""

    OFFICE = "office"
    STEWARD = "steward"
    JUDGE = "judge"
    SCRIBE = "scribe"
    EXHIBITOR = "exhibitor"
    ANNOUNCER = "announcer"
    KEY_HOLDER = "key_holder"


class Deed(StrEnum):
    """What a person may want to do."""

    SEE_OFFICE = N_("see the show office")
    RUN_ENTRIES = N_("confirm, wait or scratch entries")
    RUN_CARDS = N_("build scorecards, declare how classes are judged, set up the practice wagon")
    RUN_JUDGES = N_("appoint judges, record conflicts, draw the panel")
    RUN_WINDOW = N_("size and publish the judging window")
    PAIR_DEVICES = N_("pair and shut out phones")
    REMOVE_PHOTOS = N_("remove judges' photos")
    SETTLE = N_("answer questions, held events and concerns in the office")
    SEE_RESULTS = N_("see results before release")
    SIGN_RESULT = N_("sign a result")
    RELEASE_RESULT = N_("release a signed result")
    MAKE_PAPERS = N_("make and fetch the show's papers")
    SEE_ENTRY = N_("see an entry with its crew")
    SEE_OWN_PAPERS = N_("fetch the papers of an entry after release")
    ASK_QUERY = N_("ask about an entry's result")
    SEE_ENTRY_MONEY = N_("see what an entry owes and has paid")
    LINK_ENTRY = N_("make the private calendar link of an entry")
    SEE_JUDGE_REPORT = N_("read a judge's own report")
    FETCH_JUDGE_REPORT = N_("fetch a judge's own report as a paper")
    TAKE_RECORD = N_("take the record out as a file")
    READ_CALL_LIST = N_("read the announcer's list")
    RUN_FOOD = N_("set up food rounds, draw their tables, close their marks")
    TAKE_DISHES = N_("take dishes in and log temperatures")
    RUN_PEOPLE = N_("give roles in the show and take them back")
    RUN_TERMS = N_("set the show's name, days, classes and terms of entering")
    RUN_MONEY = N_("keep the show's ledger")
    RUN_CAMP = N_("lay out the camp")
    CHECK_IN = N_("check wagons in")
    TELL_EXHIBITORS = N_("send messages to exhibitors")
    MOVE_SHOW = N_("take a whole show out and bring it in")
    CHANGE_ENTRY = N_("change an entry's crew, animals, camp and contacts")
    LEAVE_SHOW = N_("withdraw an entry, take up or decline an offered place")
    KEEP_KEY = N_("keep the key from codes to wagons")


# Nobody asks or withdraws in an exhibitor's name, and not even the office knows which wagon a
# code stands for before the key is opened.
_OFFICE_DEEDS = frozenset(Deed) - {Deed.ASK_QUERY, Deed.LEAVE_SHOW, Deed.KEEP_KEY}

TABLE: dict[Role, frozenset[Deed]] = {
    Role.OFFICE: _OFFICE_DEEDS,
    Role.STEWARD: frozenset(
        {
            Deed.SEE_OFFICE,
            Deed.SETTLE,
            Deed.SEE_RESULTS,
            Deed.SIGN_RESULT,
            Deed.SEE_ENTRY,
            Deed.SEE_JUDGE_REPORT,
            Deed.PAIR_DEVICES,
            Deed.TAKE_DISHES,
            Deed.CHECK_IN,
        }
    ),
    # Judges work on a paired phone and see only their own cards there; the role itself
    # opens no page of the office.
    Role.JUDGE: frozenset(),
    Role.SCRIBE: frozenset(),
    Role.EXHIBITOR: frozenset(),
    Role.ANNOUNCER: frozenset({Deed.READ_CALL_LIST}),
    Role.KEY_HOLDER: frozenset({Deed.KEEP_KEY, Deed.TAKE_DISHES}),
}

# Whoever runs a food round, signs its results or judges it must not hold its key.
KEEP_NO_KEY = frozenset({Role.OFFICE, Role.STEWARD, Role.JUDGE})

OWNER_DEEDS = frozenset(
    {
        Deed.SEE_ENTRY,
        Deed.SEE_OWN_PAPERS,
        Deed.ASK_QUERY,
        Deed.SEE_ENTRY_MONEY,
        Deed.LINK_ENTRY,
        Deed.CHANGE_ENTRY,
        Deed.LEAVE_SHOW,
        Deed.SEE_JUDGE_REPORT,
        Deed.FETCH_JUDGE_REPORT,
    }
)


def may(roles: Iterable[Role], deed: Deed, *, owner: bool = False) -> bool:
    """Say whether somebody with these roles in the show may do the deed.

    Parameters
    ----------
    roles : iterable of Role
        Roles held in the show concerned, and in no other.
    deed : Deed
        What is asked for.
    owner : bool
        Whether the object is the person's own.

    Returns
    -------
    bool
        False unless the table says so.

    Source
    ------
    Common practice, no source: a show office runs the show, a second hand signs.

    Examples
    --------
    >>> may([Role.STEWARD], Deed.SIGN_RESULT), may([Role.STEWARD], Deed.RELEASE_RESULT)
    (True, False)
    >>> may([], Deed.SEE_OWN_PAPERS, owner=True)
    True
    """
    if owner and deed in OWNER_DEEDS:
        return True
    return any(deed in TABLE[role] for role in roles)

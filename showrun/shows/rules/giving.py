"""Which roles of a show the office gives and takes back, and what each of them lets a person do."""

from __future__ import annotations

from collections.abc import Collection

from showrun.language import gettext as _
from showrun.shows.rules.access import KEEP_NO_KEY, TABLE, Deed, Role

NAMES: dict[Role, str] = {
    Role.OFFICE: "show office",
    Role.STEWARD: "steward",
    Role.JUDGE: "judge",
    Role.SCRIBE: "scribe",
    Role.EXHIBITOR: "exhibitor",
    Role.ANNOUNCER: "announcer",
    Role.KEY_HOLDER: "key holder",
}
GIVEN = (Role.OFFICE, Role.STEWARD, Role.ANNOUNCER, Role.SCRIBE, Role.KEY_HOLDER)
# Whoever holds the key from codes to wagons has no other part in which it could be used.
NOT_WITH_THE_KEY = KEEP_NO_KEY | {Role.EXHIBITOR}
_ELSEWHERE = {
    Role.JUDGE: "A judge's role follows engaging the judge; engage judges on the page Judges.",
    Role.EXHIBITOR: "An exhibitor's role follows entering a wagon.",
}
# Roles whose part is not played on a page.
_WITHOUT_PAGES = {
    Role.JUDGE: "mark the cards of their seats on a paired phone, and nothing else",
    Role.SCRIBE: "key for a judge on the judge's phone; the role opens no page",
    Role.EXHIBITOR: "run their own entries, and read their papers after release",
}


def what_it_lets(role: Role) -> str:
    """Say in one sentence what a role lets somebody do, by the access table.

    Parameters
    ----------
    role : Role

    Returns
    -------
    str

    Notes
    -----
    A role with more than half of all deeds is told by what it may not do.

    Source
    ------
    The table in `showrun.shows.rules.access`; common practice, no source.

    Examples
    --------
    >>> what_it_lets(Role.ANNOUNCER)
    "May read the announcer's list."
    >>> what_it_lets(Role.OFFICE).startswith("May do everything in the show's office, but not ")
    True
    """
    deeds = TABLE[role]
    if not deeds:
        return f"May {_WITHOUT_PAGES[role]}."
    if 2 * len(deeds) > len(Deed):
        not_theirs = [deed.value for deed in Deed if deed not in deeds]
        return _("May do everything in the show's office, but not {listed}.").format(
            listed=_listed(not_theirs, "or")
        )
    return f"May {_listed([deed.value for deed in Deed if deed in deeds], 'and')}."


def _listed(words: list[str], last: str) -> str:
    if len(words) < 3:
        return f" {last} ".join(words)
    return f"{'; '.join(words[:-1])}; {last} {words[-1]}"


def why_not_give(
    role: Role, *, held: Collection[Role], key_holder: str = "", name: str = "This person"
) -> str:
    """Say why the office must not give somebody a role.

    Parameters
    ----------
    role : Role
    held : collection of Role
        What the person holds in the show already.
    key_holder : str
        Who holds the key, if somebody does.
    name : str
        The person's name.

    Returns
    -------
    str
        Empty where nothing is against it.

    Source
    ------
    Common practice, no source: whoever knows which wagon a code stands for does not run, sign,
    judge or exhibit, and one person holds the key.

    Examples
    --------
    >>> why_not_give(Role.STEWARD, held=[Role.ANNOUNCER])
    ''
    >>> why_not_give(Role.STEWARD, held=[Role.KEY_HOLDER], name="Ada")
    'Ada holds the key from codes to wagons, which cannot go with the role of steward.'
    >>> why_not_give(Role.JUDGE, held=[])
    "A judge's role follows engaging the judge; engage judges on the page Judges."
    """
    if role in _ELSEWHERE:
        return _ELSEWHERE[role]
    if role in held:
        return _("{name} is {role} of this show already.").format(name=name, role=NAMES[role])
    if role is Role.KEY_HOLDER:
        against = sorted(NAMES[one] for one in NOT_WITH_THE_KEY & set(held))
        if against:
            return _("{name} is {against} of this show, and so cannot hold the key.").format(
                name=name, against=against[0]
            )
        if key_holder:
            return _("{key_holder} holds the key; one person does. Take it back first.").format(
                key_holder=key_holder
            )
    if Role.KEY_HOLDER in held and role in NOT_WITH_THE_KEY:
        return _(
            "{name} holds the key from codes to wagons, which cannot go with the role of {role}."
        ).format(name=name, role=NAMES[role])
    return ""


def why_not_take(role: Role, *, holders: int) -> str:
    """Say why the office must not take a role back.

    Parameters
    ----------
    role : Role
    holders : int
        How many people hold it in the show, this one included.

    Returns
    -------
    str
        Empty where nothing is against it.

    Source
    ------
    Common practice, no source: a show is never left without an office.

    Examples
    --------
    >>> why_not_take(Role.OFFICE, holders=1)
    'A show keeps one person in its office at least. Give somebody else that role first.'
    >>> why_not_take(Role.OFFICE, holders=2), why_not_take(Role.STEWARD, holders=1)
    ('', '')
    """
    if role in _ELSEWHERE:
        return _ELSEWHERE[role]
    if role is Role.OFFICE and holders < 2:
        return _(
            "A show keeps one person in its office at least. Give somebody else that role first."
        )
    return ""

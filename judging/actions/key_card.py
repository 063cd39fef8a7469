"""Key a judge's paper card: twice by two people, a third look where they differ, then take it."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import datetime

from django.db import transaction

from entries.models import Entry
from judging.actions.take_paper import give_back, put_in, put_in_concern
from judging.models import Judge, KeyedRow, Keying, PaperCard
from judging.queries.cards import demand_card
from judging.queries.keyings import KeyedCard, keyed_card_by_id, sheet_of
from judging.queries.panel import seats_of
from judging.rules.round.keying import (
    LEFT_EMPTY,
    ROW,
    SIGNED,
    YES,
    KeyingRefused,
    State,
    read_keying,
    read_place,
)
from showrun.errors import Conflict, InvalidInput, NotFound
from showrun.language import gettext as _
from showrun.language import gettext_noop as N_
from showrun.language import in_english
from showrun.shows.actions.record import record_change
from showrun.shows.models import Person

LONGEST_REASON = 300  # letters
NOT_KEYED_YET = N_("The keying is not kept yet; see the rows marked below.")
NOT_LOOKED_YET = N_("The third look is not kept yet; see the rows marked below.")


@dataclass(frozen=True)
class Choice:
    """What a third look goes by at one place: the first, the second, or what is typed."""

    chosen: str
    typed: str = ""


@dataclass(frozen=True)
class Taken:
    """What became of a paper card's values: given to the card, and kept for the office."""

    applied: int
    held: int
    handed_in: bool
    # Why the card is not handed in, where it is not.
    lacking: int
    signed: bool


@transaction.atomic
def issue_cards(*, judge: Judge, entries: Iterable[Entry], at: datetime) -> list[PaperCard]:
    """Give each of the judge's cards its number, once for each version of the scorecard."""
    scorecard = demand_card(judge.show)
    wanted = {entry.pk: entry for entry in entries}
    seats = seats_of(judge.show).filter(judge=judge, section__scorecard=scorecard)
    seated = set(seats.order_by().values_list("entry_id", flat=True))
    stray = [entry for pk, entry in wanted.items() if pk not in seated]
    if stray:
        raise NotFound(
            _("{judge} does not sit at wagon {number}.").format(judge=judge, number=stray[0])
        )
    PaperCard.objects.bulk_create(
        (PaperCard(judge=judge, entry_id=pk, scorecard=scorecard, issued_at=at) for pk in wanted),
        ignore_conflicts=True,
    )
    cards = PaperCard.objects.filter(judge=judge, scorecard=scorecard, entry__in=wanted)
    return list(cards.select_related("judge__person", "entry").order_by("entry__number"))


@transaction.atomic
def key_card(*, card: PaperCard, typed: Mapping[str, str], by: Person, at: datetime) -> KeyedCard:
    """Keep what one person read on the card, the first or the second to do so.

    A safety concern does not wait for the second: it is raised at once.
    """
    there = _hold(card)
    if there.is_keyed_by(by):
        raise Conflict(_("You keyed this card before; the second keying is another person's."))
    if there.state not in (State.NOT_KEYED, State.ONCE):
        raise Conflict(_("Two people have keyed this card already; what you typed was not needed."))
    sheet = sheet_of(there.card)
    given, faults = read_keying(typed, sheet.rules)
    if faults:
        raise InvalidInput(_(NOT_KEYED_YET), fields=faults)
    turn = len(there.keyings) + 1
    _keep(there.card, turn, given, by, at)
    # The values stay out of the record: whoever keys second must not find them there.
    record_change(
        show=there.card.judge.show,
        actor=by,
        at=at,
        verb="keyed",
        subject=f"{there.card}",
        after={"turn": turn, "edition": there.card.edition},
    )
    put_in_concern(card=there.card, given=given, people=[*there.people, by], at=at)
    return keyed_card_by_id(card.pk)


@transaction.atomic
def look_at(
    *, card: PaperCard, choices: Mapping[str, Choice], by: Person, at: datetime
) -> KeyedCard:
    """Keep what a third look at the paper found, at every place where two keyings differ."""
    there = _hold(card)
    if there.state is not State.DIFFER:
        raise Conflict(
            _("Nothing of this card is to be looked at: it is {state}.").format(
                state=_(there.state.value)
            )
        )
    rules = sheet_of(there.card).rules
    first, second = there.given
    found: dict[str, str] = {}
    faults: dict[str, str] = {}
    for place in there.differing:
        choice = choices.get(place, Choice(""))
        try:
            if choice.chosen == "typed":
                found[place] = read_place(place, choice.typed, rules)
            elif choice.chosen in ("first", "second"):
                nothing = LEFT_EMPTY if place.startswith(ROW) else ""
                read = first if choice.chosen == "first" else second
                found[place] = read.get(place, nothing)
            else:
                faults[place] = _("Choose what the paper says.")
        except KeyingRefused as refused:
            faults[place] = str(refused)
    if faults:
        raise InvalidInput(_(NOT_LOOKED_YET), fields=faults)
    chosen = {place: choices[place].chosen for place in found}
    _keep(there.card, 3, found, by, at, chosen)
    record_change(
        show=there.card.judge.show,
        actor=by,
        at=at,
        verb="looked at",
        subject=f"{there.card}",
        before={place: {"first": first.get(place), "second": second.get(place)} for place in found},
        after={place: {"given": found[place], "by": chosen[place]} for place in found},
    )
    return keyed_card_by_id(card.pk)


@transaction.atomic
def take_card(*, card: PaperCard, by: Person, at: datetime) -> Taken:
    """Let the agreed values go into the judge's card as events of the judge's paper, once.

    Asked again, it tells what became of them and adds nothing; only, rows that lacked may have
    come by phone since, and then the signed card is handed in.
    """
    there = _hold(card)
    given = there.agreed
    if given is None:
        raise Conflict(
            _("This card is {state}; its values wait until they agree.").format(
                state=_(there.state.value)
            )
        )
    sheet_of(there.card)  # refuses where the judge sits no more
    applied, held, handed_in, lacking = put_in(
        card=there.card, given=given, people=there.people, at=at
    )
    outcome = Taken(applied, held, handed_in, lacking, given.get(SIGNED) == YES)
    if there.state is State.TAKEN:
        return outcome
    there.card.taken_at, there.card.taken_by = at, by
    there.card.save(update_fields=["taken_at", "taken_by"])
    with in_english():  # the record says it alike, whoever took the card
        source = there.source
    record_change(
        show=there.card.judge.show,
        actor=by,
        at=at,
        verb="took",
        subject=f"{there.card}",
        after={
            "source": "paper",
            "keyed_by": [person.name for person in there.people],
            "looked_by": there.look.keyed_by.name if there.look else None,
            "given": given,
            "applied": applied,
            "held": held,
            "handed_in": handed_in,
        },
        reason=f"{source}.",
        device="Paper card",
    )
    return outcome


@transaction.atomic
def start_over(*, card: PaperCard, reason: str, by: Person, at: datetime) -> KeyedCard:
    """Let the card be keyed anew by two people; what was keyed and taken before is kept.

    A card its paper handed in is open again, even after a result was signed, until it is taken.
    """
    there = _hold(card)
    reason = reason.strip()
    if not reason or len(reason) > LONGEST_REASON:
        words = _("Say why, in at most {longest} letters.").format(longest=LONGEST_REASON)
        raise InvalidInput(words, fields={"reason": words})
    if not there.keyings:
        raise Conflict(_("Nobody has keyed this card yet; there is nothing to start over."))
    state = there.state
    there.card.edition += 1
    there.card.taken_at = there.card.taken_by = None
    there.card.save(update_fields=["edition", "taken_at", "taken_by"])
    was_in = give_back(there.card)
    record_change(
        show=there.card.judge.show,
        actor=by,
        at=at,
        verb="started over",
        subject=f"{there.card}",
        before={
            "state": state.value,
            "keyed_by": [person.name for person in there.people],
            "handed_in_by_paper": was_in,
        },
        after={"edition": there.card.edition},
        reason=reason,
    )
    return keyed_card_by_id(card.pk)


def _hold(card: PaperCard) -> KeyedCard:
    """Lock the card; of two people at once the other waits, then sees what was done."""
    PaperCard.objects.select_for_update().values_list("pk").get(pk=card.pk)
    there = keyed_card_by_id(card.pk)
    _demand_in_use(there.card)
    return there


def _demand_in_use(card: PaperCard) -> None:
    if not card.scorecard.in_use:
        now = demand_card(card.judge.show)
        raise Conflict(
            _(
                "This card was printed for {scorecard}; judges mark on {now} now. Print the new "
                "card, let the judge write the marks over, and key that one."
            ).format(scorecard=card.scorecard, now=now)
        )


def _keep(
    card: PaperCard,
    turn: int,
    given: Mapping[str, str],
    by: Person,
    at: datetime,
    chosen: Mapping[str, str] | None = None,
) -> Keying:
    keying = Keying.objects.create(
        card=card, edition=card.edition, turn=turn, keyed_by=by, keyed_at=at
    )
    KeyedRow.objects.bulk_create(
        KeyedRow(keying=keying, place=place, given=text, chosen=(chosen or {}).get(place, ""))
        for place, text in given.items()
    )
    return keying

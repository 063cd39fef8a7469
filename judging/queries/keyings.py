"""Paper cards as the office reads them: what is to be keyed, how far each is, who keyed it."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass, field

from django.db.models import F, Prefetch, Q, QuerySet

from entries.models import Entry
from judging.models import Card, Criterion, Judge, KeyedRow, Keying, PaperCard, Scorecard, Section
from judging.queries.panel import seats_of
from judging.queries.rigs import card_facts
from judging.rules.cards.condition import applies
from judging.rules.round.keying import (
    Sheet,
    State,
    agreed,
    differing,
    state_of,
)
from judging.rules.round.paper_number import NumberRefused, read_card_number
from showrun.errors import Conflict, NotFound
from showrun.language import gettext as _
from showrun.language import listed
from showrun.shows.models import Person, Show

Given = dict[str, str]


@dataclass(frozen=True)
class Part:
    """A section of the judge's at the entry, with the rows of its rig."""

    section: Section
    rows: list[Criterion]


@dataclass(frozen=True)
class PaperSheet:
    """A judge's card for an entry, as it is printed and keyed."""

    entry: Entry
    facts: dict[str, str]
    parts: list[Part]

    @property
    def rules(self) -> Sheet:
        """The sheet as the rules know it."""
        return Sheet(tuple(part.section.as_value() for part in self.parts), self.facts)


def sheets_of(judge: Judge, card: Scorecard) -> list[PaperSheet]:
    """Return the judge's cards of all their wagons on this scorecard, by number."""
    seats = list(
        seats_of(judge.show)
        .filter(judge=judge, section__scorecard=card)
        .order_by("entry__number", "section__position")
    )
    begun = {one.entry_id: one for one in Card.objects.filter(judge=judge)}
    sections = {
        section.pk: section for section in sections_with_rows({s.section_id for s in seats})
    }
    entries = {seat.entry_id: seat.entry for seat in seats}
    mine: dict[int, list[Section]] = defaultdict(list)
    for seat in seats:
        mine[seat.entry_id].append(sections[seat.section_id])
    return [
        _sheet(entry, card_facts(begun.get(pk), entry), mine[pk]) for pk, entry in entries.items()
    ]


def sections_with_rows(wanted: Iterable[int]) -> list[Section]:
    """Return these sections in the card's order, each with its rows in theirs."""
    rows = Criterion.objects.order_by("position", "pk")
    found = Section.objects.filter(pk__in=set(wanted)).order_by("position")
    return list(found.prefetch_related(Prefetch("criteria", queryset=rows)))


def _sheet(entry: Entry, facts: dict[str, str], sections: Iterable[Section]) -> PaperSheet:
    parts = [
        Part(section, [row for row in section.criteria.all() if applies(row.applies, facts)])
        for section in sections
    ]
    return PaperSheet(entry, facts, parts)


def sheet_of(card: PaperCard) -> PaperSheet:
    """Return what is keyed from this card; a judge who sits there no more has nothing to key."""
    seats = seats_of(card.judge.show).filter(
        judge=card.judge_id, entry=card.entry_id, section__scorecard=card.scorecard_id
    )
    sections = sections_with_rows(seats.order_by().values_list("section_id", flat=True))
    if not sections:
        raise Conflict(
            _("{judge} does not sit at wagon {entry}; nothing is keyed for it.").format(
                judge=card.judge, entry=card.entry.called
            )
        )
    begun = Card.objects.filter(judge=card.judge_id, entry=card.entry_id).first()
    return _sheet(card.entry, card_facts(begun, card.entry), sections)


# --- One card ---------------------------------------------------------------------------------


@dataclass(frozen=True)
class KeyedCard:
    """A paper card with what was keyed from it in its present edition."""

    card: PaperCard
    keyings: list[Keying] = field(default_factory=list)
    look: Keying | None = None

    @property
    def given(self) -> list[Given]:
        """What the first and the second gave, by place."""
        return [given_of(one) for one in self.keyings]

    @property
    def looked(self) -> Given:
        """What the third look found."""
        return given_of(self.look) if self.look else {}

    @property
    def state(self) -> State:
        """How far the card is."""
        taken = self.card.taken_at is not None
        return state_of(self.given, looked=self.look is not None, taken=taken)

    @property
    def differing(self) -> tuple[str, ...]:
        """The places at which the two keyings differ."""
        if len(self.keyings) < 2:
            return ()
        first, second = self.given
        return differing(first, second)

    @property
    def agreed(self) -> Given | None:
        """What the card says, once that is settled."""
        if len(self.keyings) < 2:
            return None
        first, second = self.given
        return agreed(first, second, self.looked)

    @property
    def people(self) -> list[Person]:
        """Who keyed it, the first first."""
        return [one.keyed_by for one in self.keyings]

    @property
    def source(self) -> str:
        """Where the values are from, in words; empty before the second keying."""
        return source_words(self.people) if len(self.keyings) == 2 else ""

    def is_keyed_by(self, person: Person) -> bool:
        """Say whether this person keyed it already, and so cannot key it once more."""
        return any(one.keyed_by_id == person.pk for one in self.keyings)


def source_words(people: Iterable[Person]) -> str:
    """Say in words that a card's values are from paper, and who keyed them."""
    return _("From paper, keyed by {people}").format(
        people=listed([person.name for person in people])
    )


def given_of(keying: Keying) -> Given:
    """Return what was keyed, by place, in the card's order."""
    return {row.place: row.given for row in keying.rows.all()}


def _with_keyings(cards: QuerySet[PaperCard]) -> QuerySet[PaperCard]:
    rows = KeyedRow.objects.order_by("pk")
    keyings = Keying.objects.filter(edition=F("card__edition")).order_by("turn")
    keyings = keyings.select_related("keyed_by").prefetch_related(Prefetch("rows", queryset=rows))
    return cards.select_related(
        "judge__person", "judge__show", "entry__show", "scorecard", "taken_by"
    ).prefetch_related(Prefetch("keyings", queryset=keyings))


def _keyed(card: PaperCard) -> KeyedCard:
    there = list(card.keyings.all())
    return KeyedCard(
        card,
        [one for one in there if one.turn < 3],
        next((one for one in there if one.turn == 3), None),
    )


def keyed_card(number: str) -> KeyedCard:
    """Return the paper card with this number and what was keyed from it."""
    try:
        pk = read_card_number(number)
    except NumberRefused as refused:
        raise NotFound(str(refused)) from refused
    return keyed_card_by_id(pk)


def keyed_card_by_id(pk: int) -> KeyedCard:
    """Return a paper card and what was keyed from it."""
    card = _with_keyings(PaperCard.objects.filter(pk=pk)).first()
    if card is None:
        raise NotFound(_("There is no paper card with this number."))
    return _keyed(card)


# --- The whole show ---------------------------------------------------------------------------


@dataclass(frozen=True)
class CardLine:
    """A card the office may key: one of the panel, printed or not, or one keyed before."""

    judge: Judge
    entry: Entry
    keyed: KeyedCard | None
    # Printed for a version of the scorecard that judges mark on no more.
    outdated: bool
    handed_in: bool

    @property
    def state(self) -> State:
        """How far it is."""
        return self.keyed.state if self.keyed else State.NOT_KEYED


def card_lines(show: Show) -> list[CardLine]:
    """Return every card of the panel by wagon and judge, and older paper keyed in part.

    The number of statements does not grow with the show.
    """
    cards = _with_keyings(PaperCard.objects.filter(judge__show=show))
    by_seat: dict[tuple[int, int], KeyedCard] = {}
    older: list[KeyedCard] = []
    for card in cards:
        if card.scorecard.in_use:
            by_seat[card.judge_id, card.entry_id] = _keyed(card)
        elif card.keyings.all() and card.taken_at is None:
            older.append(_keyed(card))
    seats = seats_of(show).order_by("entry__number", "judge__code")
    there = {(seat.judge_id, seat.entry_id): (seat.judge, seat.entry) for seat in seats}
    done = Card.objects.filter(judge__show=show, handed_in_at__isnull=False)
    handed_in = set(done.values_list("judge_id", "entry_id"))
    lines = [
        CardLine(judge, entry, by_seat.get(key), outdated=False, handed_in=key in handed_in)
        for key, (judge, entry) in there.items()
    ]
    return lines + [
        CardLine(one.card.judge, one.card.entry, one, outdated=True, handed_in=False)
        for one in older
    ]


def keyed_from_paper(show: Show) -> dict[tuple[int, int], str]:
    """Say of every card taken from paper who keyed it, by judge and entry id."""
    keyings = Keying.objects.filter(
        Q(edition=F("card__edition")),
        card__judge__show=show,
        card__taken_at__isnull=False,
        turn__lt=3,
    ).order_by("card_id", "turn")
    people: dict[tuple[int, int], list[Person]] = defaultdict(list)
    for one in keyings.select_related("card", "keyed_by"):
        people[one.card.judge_id, one.card.entry_id].append(one.keyed_by)
    return {key: source_words(two) for key, two in people.items()}

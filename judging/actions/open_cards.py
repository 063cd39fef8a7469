"""A judge's cards laid out for work, and put back: rig, rows and marks as they stand.

What is wanted is read in as many statements for many cards as for few.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass, field

from django.db.models import Q

from entries.rules.places import Status
from entries.rules.rig import FACTS
from judging.models import Card, CardMark, Criterion, Judge, RoundEvent, Seat
from judging.models.card import EMPTY
from judging.queries.rigs import facts_of
from judging.rules.cards import scorecard as values
from judging.rules.cards.condition import applies
from judging.rules.round.card_hash import card_hash

_SEAT = (
    "entry_id",
    "section_id",
    "section__code",
    "section__form",
    "section__scorecard_id",
    "section__scorecard__frozen_at",
    "entry__status",
)
MARK_FIELDS = ("state", "value", "aside", "version", "device", "seq", "event")
_RIG = tuple(f"entry__{fact}" for fact in FACTS)
_MARK = (
    "card__entry_id",
    "criterion__code",
    "criterion_id",
    "state",
    "value",
    "aside",
    "device_id",
    "seq",
    "version",
)


@dataclass
class Given:
    """A row's mark as it stands (None: taken back), and the touch that gave it."""

    criterion_id: int
    mark: values.Mark | None
    device_id: int | None
    seq: int
    version: int
    aside: bool = False
    event: RoundEvent | None = None


@dataclass
class OpenCard:
    """A card in work: the rig and sections of its entry, and the marks as they stand."""

    card: Card
    entered: dict[str, str]
    practice: bool = False
    sections: dict[str, int] = field(default_factory=dict)
    rows: dict[str, Criterion] = field(default_factory=dict)
    forms: dict[int, values.Form] = field(default_factory=dict)
    marks: dict[str, Given] = field(default_factory=dict)

    @property
    def facts(self) -> dict[str, str]:
        """The rig the card goes by: as the judge found it, else as it was entered."""
        return facts_of(self.card.rig) if self.card.rig else self.entered

    def is_aside(self, code: str) -> bool:
        """Say whether a mark given on this row is kept aside: the card does not have the row.

        What is set aside on rows of an earlier version of the card stays so.
        """
        row, given = self.rows.get(code), self.marks[code]
        if row is None or row.pk != given.criterion_id:
            return given.aside
        return not applies(row.applies, self.facts)

    def values(self) -> dict[str, values.Mark]:
        """Return the marks that count, as the rules know them."""
        return {
            code: given.mark
            for code, given in self.marks.items()
            if given.mark is not None and not self.is_aside(code)
        }

    def lacking(self) -> list[str]:
        """Return the rows of this rig that have no mark yet."""
        given, facts = self.values(), self.facts
        on_rig = (code for code, row in self.rows.items() if applies(row.applies, facts))
        return [code for code in on_rig if code not in given]

    def hash(self) -> str:
        """Return the fingerprint the phone compares with its own."""
        return card_hash(self.values())


def lay_out(
    judge: Judge, entries: Iterable[int], more: Q | None = None
) -> tuple[dict[int, OpenCard], set[int]]:
    """Lay out the judge's cards of these entries, and those where marks are as `more` says.

    Returns the cards by entry, and the scorecards among them that no mark has frozen yet.
    """
    wanted = set(entries)
    here = Q(card__entry__in=wanted)
    marks = _marks(judge, here | more if more else here)
    wanted.update(marks)
    opened: dict[int, OpenCard] = {}
    unfrozen: set[int] = set()
    if not wanted:
        return opened, unfrozen
    seats = Seat.objects.filter(judge=judge, entry__in=wanted).order_by()
    found = list(seats.values_list(*_SEAT, *_RIG))
    rows = _rows({section_id for _, section_id, *_ in found})
    begun = {c.entry_id: c for c in Card.objects.filter(judge=judge, entry__in=wanted)}
    for entry_id, section_id, code, form, scorecard_id, frozen_at, status, *facts in found:
        if entry_id not in opened:
            card = begun.get(entry_id) or Card(judge=judge, entry_id=entry_id)
            entered = dict(zip(FACTS, facts, strict=True))
            practice = status == Status.PRACTICE.value
            opened[entry_id] = OpenCard(card, entered, practice, marks=marks[entry_id])
        opened[entry_id].sections[code] = section_id
        opened[entry_id].forms[section_id] = values.Form(form)
        opened[entry_id].rows.update(rows[section_id])
        if frozen_at is None:
            unfrozen.add(scorecard_id)
    return opened, unfrozen


def _rows(sections: Collection[int]) -> Mapping[int, dict[str, Criterion]]:
    """Return the rows of sections by section and code."""
    found: dict[int, dict[str, Criterion]] = defaultdict(dict)
    for row in Criterion.objects.filter(section__in=sections).order_by("position"):
        found[row.section_id][row.code] = row
    return found


def _marks(judge: Judge, wanted: Q) -> dict[int, dict[str, Given]]:
    """Return marks of the judge's cards by entry and row.

    Where versions of the card left two marks with one code, the one that counts comes first.
    """
    found: dict[int, dict[str, Given]] = defaultdict(dict)
    # As bare columns: a batch changes few of the rows that stand on a card.
    marks = CardMark.objects.filter(wanted, card__judge=judge).order_by("aside", "-criterion_id")
    for entry_id, code, row_id, state, value, aside, device_id, seq, version in marks.values_list(
        *_MARK
    ):
        mark = None if state == EMPTY else values.Mark(values.MarkState(state), value)
        given = Given(row_id, mark, device_id, seq, version, aside)
        found[entry_id].setdefault(code, given)
    return found


def write_marks(opened: Mapping[int, OpenCard], touched: Mapping[tuple[int, str], Given]) -> None:
    """Write the marks given, by entry and row, new and changed ones in one statement."""
    CardMark.objects.bulk_create(
        (
            CardMark(
                card=opened[entry_id].card,
                criterion_id=given.criterion_id,
                state=given.mark.state.value if given.mark else EMPTY,
                value=given.mark.value if given.mark else None,
                aside=opened[entry_id].is_aside(code),
                version=given.version,
                device_id=given.device_id,
                seq=given.seq,
                event=given.event,
            )
            for (entry_id, code), given in touched.items()
        ),
        update_conflicts=True,
        unique_fields=("card", "criterion"),
        update_fields=MARK_FIELDS,
    )

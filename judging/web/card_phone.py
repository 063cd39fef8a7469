"""A card as it stands on a judge's phone, for the office to look at before anybody marks."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal

from entries.rules.rig import Rig
from judging.models import Criterion, Scorecard, Section
from judging.rules.cards.condition import applies, every_rig
from judging.rules.cards.scorecard import Form
from judging.rules.round.card_hash import plain_number
from showrun.language import gettext as _
from showrun.language import gettext_noop as N_

MOST_KEYS = 21
PHONE_ROWS = 120
DANGER_SENTENCES = {
    "A": N_("If this fails: do not move the team."),
    "B": N_("If this fails: mend before moving."),
}


@dataclass(frozen=True)
class PhoneRow:
    """A row on the phone; the open one shows its keys and guidance."""

    row: Criterion
    keys: list[str]
    opened: bool
    danger: str


@dataclass(frozen=True)
class PhoneSection:
    """A section on the phone."""

    section: Section
    rows: list[PhoneRow]


@dataclass(frozen=True)
class PhoneView:
    """The card for one rig; facts left open are those of the commonest rig of the list."""

    rig: Mapping[str, str]
    rig_words: str
    sections: list[PhoneSection]
    n_rows: int
    minutes: int
    cut: int


def phone_view(card: Scorecard, facts: Mapping[str, str]) -> PhoneView:
    """Lay the card out for the rig; a fact left open takes the first value there is."""
    rig = {**every_rig()[0], **facts}
    sections = []
    room, cut = PHONE_ROWS, 0
    for section in card.sections.all():
        here = [row for row in section.criteria.all() if applies(row.applies, rig)]
        shown, room = here[:room], max(0, room - len(here))
        cut += len(here) - len(shown)
        rows = [
            PhoneRow(row, keys_of(row, Form(section.form)), n == 0, _danger(row))
            for n, row in enumerate(shown)
        ]
        sections.append(PhoneSection(section, rows))
    return PhoneView(
        rig=rig,
        rig_words=Rig.read(rig).in_words(),
        sections=sections,
        n_rows=sum(len(part.rows) for part in sections) + cut,
        minutes=sum(section.minutes for section in card.sections.all()),
        cut=cut,
    )


def keys_of(row: Criterion, form: Form) -> list[str]:
    """Return the keys a judge taps for the row."""
    if form is Form.PASS_FAIL:
        return [_("Pass"), _("Fail")]
    if form is Form.PLACINGS:
        return ["1", "2", "3", "4", "5", "6"]
    if row.step <= 0:
        return []
    count = int(row.max_mark / row.step) + 1
    values = [Decimal(n) * row.step for n in range(min(count, MOST_KEYS))]
    return [plain_number(value) for value in values]


def _danger(row: Criterion) -> str:
    return _(DANGER_SENTENCES[row.danger]) if row.danger in DANGER_SENTENCES else ""

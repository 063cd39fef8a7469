"""Who keyed a card: the judge, or a scribe who keyed for the judge."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from django.db.models import F, OuterRef, Q, QuerySet, Subquery

from judging.models import Card, CardMark, RoundEvent
from judging.models.card import EMPTY
from judging.models.device import PAPER_TOKEN
from judging.rules.round.events import Kind
from showrun.language import gettext as _
from showrun.language import listed
from showrun.shows.models import Show

# A card by its judge and its entry.
CardKey = tuple[int, int]


@dataclass(frozen=True)
class Hands:
    """Whose hands touched the phone for a card's marks and its hand-in."""

    scribes: tuple[str, ...] = ()
    judge: bool = False

    def in_words(self) -> str:
        """Name them, the judge last; nobody when nothing came from a phone."""
        names = [*self.scribes, *([_("the judge")] if self.judge else [])]
        return listed(names)


NOBODY = Hands()


def keyed_by_of(show: Show) -> Mapping[CardKey, Hands]:
    """Say of every card that has a mark who keyed it, by judge and entry id.

    What was keyed from paper has two names of its own: see `keyed_from_paper`.
    """
    hands: dict[CardKey, set[str]] = defaultdict(set)
    for judge_id, entry_id, name in (*_of_marks(show), *_of_hand_ins(show)):
        hands[judge_id, entry_id].add(name)
    return {key: _hands(names) for key, names in hands.items()}


def _hands(names: Iterable[str]) -> Hands:
    names = set(names)
    return Hands(tuple(sorted(names - {""})), "" in names)


def _of_marks(show: Show) -> QuerySet[CardMark, tuple[int, int, str]]:
    kept = CardMark.objects.filter(card__judge__show=show, aside=False, event__isnull=False)
    by_phone = kept.exclude(Q(state=EMPTY) | Q(device__token_hash__startswith=PAPER_TOKEN))
    rows = by_phone.order_by().values_list("card__judge_id", "card__entry_id", "event__keyed_by")
    return rows.distinct()


def _of_hand_ins(show: Show) -> QuerySet[Card, tuple[int, int, str]]:
    """Return the name behind each hand-in; the card notes its phone and number alone."""
    touch = RoundEvent.objects.filter(
        device=OuterRef("handed_in_device"),
        seq=OuterRef("handed_in_seq"),
        kind=Kind.HAND_IN.value,
        applied=True,
    )
    done = Card.objects.filter(judge__show=show, handed_in_at__isnull=False)
    by_phone = done.exclude(handed_in_device__token_hash__startswith=PAPER_TOKEN)
    named = by_phone.annotate(name=Subquery(touch.values("keyed_by")[:1]))
    known = named.filter(name__isnull=False)
    return known.order_by().values_list("judge_id", "entry_id", F("name"))


def names_on_card(judge: str, hands: Hands | None, source: str = "") -> str:
    """Say in one line who judged and who keyed; `source` are the words of a card from paper."""
    said = [_("Judge: {judge}.").format(judge=judge)]
    if hands and hands.in_words():
        said.append(_("Keyed by: {hands}.").format(hands=hands.in_words()))
    if source:
        said.append(f"{source}.")
    return " ".join(said)

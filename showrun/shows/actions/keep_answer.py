"""Answer a request once, however often it is sent with the same key."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from uuid import UUID, uuid4

from django.db import IntegrityError, transaction

from showrun.errors import Conflict, InvalidInput
from showrun.language import gettext as _
from showrun.shows.models import KeptAnswer, Person
from showrun.shows.rules.kept_answers import KEPT_FOR, Earlier, Fate, fate_of


class AnswerInProgress(Conflict):
    """The first request with this key is being answered now."""

    code = "in-progress"


@dataclass(frozen=True)
class Turn:
    """The right to answer, while `claim` stands in the row."""

    row: int
    claim: UUID


def take_turn(
    *, person: Person, path: str, key: str, body_hash: str, at: datetime
) -> Turn | KeptAnswer:
    """Return the right to answer, or the answer that was given; refuse what is neither."""
    KeptAnswer.objects.filter(claimed_at__lte=at - KEPT_FOR).delete()
    turn = uuid4()
    asked = {"person": person, "path": path, "key": key}
    try:
        with transaction.atomic():
            row = KeptAnswer.objects.create(**asked, body_hash=body_hash, claim=turn, claimed_at=at)
        return Turn(row.pk, turn)
    except IntegrityError:
        kept = KeptAnswer.objects.filter(**asked).first()
    if kept is None:  # let go of between the two looks
        raise _in_progress()
    earlier = Earlier(kept.body_hash, kept.claimed_at, answered=kept.status is not None)
    fate = fate_of(earlier, body_hash=body_hash, at=at)
    if fate is Fate.REPLAY:
        return kept
    if fate is Fate.OTHER_BODY:
        raise InvalidInput(
            _("This key was sent with another body. Take a new key."), code="key-reused"
        )
    if fate is Fate.IN_PROGRESS:
        raise _in_progress()
    mine = KeptAnswer.objects.filter(pk=kept.pk, claim=kept.claim, status=None)
    if not mine.update(claim=turn, claimed_at=at, body_hash=body_hash):
        raise _in_progress()
    return Turn(kept.pk, turn)


def keep(*, turn: Turn, status: int, body: str) -> None:
    """Keep the answer, in one transaction with what it tells of.

    Whoever was taken for broken off and lost its turn is refused here, and so undone.
    """
    mine = KeptAnswer.objects.filter(pk=turn.row, claim=turn.claim, status=None)
    if not mine.update(status=status, body=body):
        raise _in_progress()


def let_go(*, turn: Turn) -> None:
    """Give the key back: nothing was done under it."""
    KeptAnswer.objects.filter(pk=turn.row, claim=turn.claim, status=None).delete()


def _in_progress() -> AnswerInProgress:
    return AnswerInProgress(
        "A request with this key is being answered. Ask again.", retry_after_s=1
    )

"""Draw one paper: claim it, read, lay out, keep the file."""

from __future__ import annotations

from contextlib import suppress
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import TYPE_CHECKING

import structlog
from botocore.exceptions import BotoCoreError, ClientError
from django.conf import settings
from django.core.files.base import ContentFile
from django.core.files.storage import Storage
from django.db import OperationalError, transaction
from django.db.models import F, Value
from django.db.models.functions import Concat, Left

from reports.actions.lay_out_page import lay_out_page
from reports.actions.put_together import put_together
from reports.models import Paper
from reports.models.paper import file_name
from reports.queries.contents import title_of
from showrun.errors import ShowError
from showrun.language import in_english

if TYPE_CHECKING:
    from reports import pdf

log = structlog.get_logger(__name__)

# A paper that takes its worker down every time must not do so for ever.
MOST_ATTEMPTS = 6
# Faults of the moment, the last two those of a store of files out of reach: the same paper may
# well succeed a little later.
PASSING_FAULTS = (OperationalError, OSError, BotoCoreError, ClientError)


@dataclass(frozen=True)
class Claim:
    """This worker's right to finish a paper; a later claim ends it."""

    paper_id: int
    attempt: int
    at: datetime


def draw_paper(*, paper_id: int, at: datetime) -> Paper | None:
    """Draw the paper unless somebody else does or it is not wanted any more.

    A fault of the moment is raised again after the claim is given back, so that the queue may try
    later, as often as it takes: when the disk has room again no hand is needed. Any other fault is
    kept with the paper; the other papers go on.
    """
    claim = _claim(paper_id, at)
    if claim is None:
        return None
    papers = Paper.objects.select_related("show", "show_class", "entry", "result")
    paper = papers.get(pk=paper_id)
    try:
        with in_english():  # it is kept, whoever asked for it
            drawn = lay_out(paper)
        _keep(paper, drawn)
    except PASSING_FAULTS as fault:
        _finish(
            claim,
            state=Paper.State.WANTED,
            claim_expires_at=None,
            attempts=claim.attempt - 1,
            error=_words(fault),
        )
        raise
    except Exception as fault:
        log.warning("paper failed", paper_id=paper_id, exc_info=True)
        _finish(claim, state=Paper.State.FAILED, claim_expires_at=None, error=_words(fault))
        return Paper.objects.get(pk=paper_id)
    _finish(
        claim,
        state=Paper.State.DONE,
        claim_expires_at=None,
        content_hash=drawn.content_hash,
        file=paper.file.name,
        pages=drawn.pages,
        done_at=at,
        error="",
    )
    return Paper.objects.get(pk=paper_id)


def lay_out(paper: Paper) -> pdf.Drawn:
    """Make the file; what it says depends on the paper's rows alone."""
    # Only who draws loads the layout engine: half a second that web and commands never need.
    from reports import pdf  # noqa: PLC0415

    if paper.is_bundle:
        return put_together(paper)
    return pdf.draw(
        lay_out_page(paper),
        title=title_of(paper),
        lang="en",
        made_at=paper.wanted_at,
        kept=paper.is_kept_for_years,
    )


def _claim(paper_id: int, at: datetime) -> Claim | None:
    """Take the paper if it is free; one of several workers asking gets it.

    The claim lasts longer than a worker's hard time limit, so that no living worker loses it.
    """
    lease = timedelta(seconds=settings.PAPER_CLAIM_SECONDS)
    free = Paper.objects.filter(pk=paper_id).to_claim(at)
    with transaction.atomic():
        worn_out = free.filter(attempts__gte=MOST_ATTEMPTS).update(
            state=Paper.State.FAILED,
            claim_expires_at=None,
            error=Left(Concat(Value(f"Given up after {MOST_ATTEMPTS} attempts. "), "error"), 300),
        )
        taken = not worn_out and free.update(
            state=Paper.State.DRAWING,
            claimed_at=at,
            claim_expires_at=at + lease,
            attempts=F("attempts") + 1,
        )
        if not taken:
            return None
        attempt = Paper.objects.values_list("attempts", flat=True).get(pk=paper_id)
        return Claim(paper_id, attempt, at)


def _finish(claim: Claim, **outcome: object) -> bool:
    """Write the outcome if the claim still stands: not cancelled, not taken over."""
    standing = Paper.objects.filter(
        pk=claim.paper_id,
        state=Paper.State.DRAWING,
        attempts=claim.attempt,
        claimed_at=claim.at,
    )
    return bool(standing.update(**outcome))


def _keep(paper: Paper, drawn: pdf.Drawn) -> None:
    """Store the file under its content's name; the same content is stored once."""
    paper.content_hash = drawn.content_hash
    storage: Storage = paper.file.storage
    name = file_name(paper, "")
    if storage.exists(name):
        # A worker killed while writing leaves a part of the file behind.
        with storage.open(name) as kept:
            if kept.read() == drawn.data:
                paper.file.name = name
                return
        storage.delete(name)
    try:
        paper.file.name = storage.save(name, ContentFile(drawn.data))
    except OSError:
        # On a full disk a part of a file is what somebody else could have used.
        with suppress(OSError):
            storage.delete(name)
        raise


def _words(fault: Exception) -> str:
    """Say what happened, short enough to stand in a table."""
    sentence = fault.detail if isinstance(fault, ShowError) else str(fault)
    kind = "" if isinstance(fault, ShowError) else f"{type(fault).__name__}: "
    return f"{kind}{sentence}"[:300]

"""Nothing of a result gets out before its release, by any address, to anybody but the office.

Every address is read twice by everybody outside the office while a result is signed and unreleased:
as it is, and with other marks, totals, places and words put into it. No planted value may appear,
and no answer may differ in anything: not a count, not an ETag, not a length.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from datetime import UTC, datetime
from decimal import Decimal
from typing import Any
from unittest.mock import patch

import pytest
from django.core.files.base import ContentFile
from django.db import transaction
from django.test import override_settings

from entries.models import Entry
from judging.actions.release_result import release_result
from judging.models import (
    Card,
    CardMark,
    Criterion,
    Placing,
    Question,
    Remark,
    Result,
    RigReport,
    RoundEvent,
    Section,
)
from reports.models import Paper
from tests.access_rows import ROWS, ask
from tests.everybody import VISITORS, Cast
from tests.judged_show import AT, judge_of, office_of
from tests.kept import kept_for_module
from tests.tampered import unguarded

pytestmark = pytest.mark.django_db

# Letters and figures that stand nowhere else. A feedback paper's bytes are a jewel of their own.
WORDS = "quenched-lantern-under-the-sycamore"
FIGURES = ("7313.37", "642.19", "9753.57")
PLACE = 86421
JEWELS = (WORDS, *FIGURES, str(PLACE), "JEWEL-OF-PAPER")
# Whoever runs another show's office stands for all who have no part in this one.
OUTSIDE = [n for n in VISITORS if n not in ("steward", "office", "stranger", "scribe")]
# The announcer reads signed results out: that list is what the role is for.
MEANT = {("announcer", "/shows/<slug:slug>/call-list/")}
GETS = [row for row in ROWS if row.method == "GET" and row.words["office"] != "405"]
NOISE = re.compile(rb'name="csrfmiddlewaretoken" value="\w+"|nonce="[^"]+"|"server_time": ?"[^"]+"')
KINDS = (Paper.Kind.FEEDBACK, Paper.Kind.AWARD)


@pytest.fixture(scope="module")
def kept(django_db_setup: None, django_db_blocker: Any, tmp_path_factory: Any) -> Iterator[Cast]:
    files = override_settings(MEDIA_ROOT=tmp_path_factory.mktemp("files"))
    clock = patch("django.utils.timezone.now", lambda: datetime(2027, 5, 15, 22, 0, tzinfo=UTC))
    with files, clock, kept_for_module(django_db_blocker):
        cast = Cast("signed")
        papers = [paper_of(cast, kind) for kind in KINDS]
        cast.values |= {"paper_id": papers[0].pk, "code": papers[0].code}
        yield cast


@pytest.fixture
def cast(kept: Cast, db: None) -> Cast:
    return kept


def paper_of(cast: Cast, kind: str) -> Paper:
    """A paper drawn of the unreleased result, as one left from a release that was undone."""
    result = Result.objects.get(pk=cast.values["result_id"])
    paper = Paper(
        show=cast.show, kind=kind, entry_id=cast.values["entry_id"], result=result,
        show_class=result.show_class, version=1, code=f"7K3M9P2Q4R{KINDS.index(kind)}",
        wanted_at=AT, state=Paper.State.DONE, done_at=AT, content_hash="0" * 64, pages=1,
    )  # fmt: skip
    paper.file.save(f"{kind}.pdf", ContentFile(b"%PDF-1.7 JEWEL-OF-PAPER"), save=False)
    paper.save()
    return paper


def plant(cast: Cast) -> None:
    """Put into what is unreleased what stands nowhere else."""
    first, second, third = (Decimal(figure) for figure in FIGURES)
    Placing.objects.filter(result__show_class__show=cast.show).update(
        total=first, plain_total=second, adjusted_total=third, place=PLACE, plain_place=PLACE,
        adjusted_place=PLACE, decided_by=WORDS, rank_low=PLACE, rank_high=PLACE,
        purse_cents=864219,
    )  # fmt: skip
    for placing in Placing.objects.filter(result__show_class__show=cast.show):
        placing.by_section = dict.fromkeys(placing.by_section, FIGURES[1])
        placing.save()
    Result.objects.filter(show_class__show=cast.show).update(
        reason=WORDS, result_hash=WORDS, gaps_reason=WORDS, uncertainty={"refused": WORDS}
    )  # fmt: skip
    # Another judge's: the phone and the judge who ask are the first's.
    theirs = judge_of(cast.show, "J2")
    card = Card.objects.filter(judge=theirs).earliest("pk")
    touch = RoundEvent.objects.filter(device__judge=theirs).earliest("seq")
    CardMark.objects.filter(card__judge=theirs).update(value=second)
    Remark.objects.create(
        card=card, section=Section.objects.earliest("pk"), text=WORDS, device=touch.device,
        seq=touch.seq, event=touch,
    )  # fmt: skip
    Question.objects.create(
        judge=theirs, entry=Entry.objects.get(pk=cast.values["entry_id"]), value=1, expected=2,
        statistic=4.0, threshold=3.5, alpha=0.05, asked_at=AT, reason=WORDS,
        criterion=Criterion.objects.filter(section__scorecard__show=cast.show)[0],
    )  # fmt: skip
    with unguarded(RoundEvent):
        RoundEvent.objects.filter(device__judge=theirs, kind="mark").update(body={"value": WORDS})


def told(answered: Any) -> bytes:
    """Return all an answer says: status, headers, and the body without what is new each time."""
    parts = answered.streaming_content if answered.streaming else [answered.content]
    body = NOISE.sub(b"", b"".join(parts))
    kept = ("ETag", "Last-Modified", "Content-Type", "Location", "Content-Disposition")
    heads = "\n".join(f"{name}: {answered.headers.get(name, '')}" for name in kept)
    return f"{answered.status_code}\n{heads}\n".encode() + body


def read(cast: Cast, visitor: str, *, let_in: bool | None = None) -> dict[str, bytes]:
    """Read every address as the visitor, or only those that do or do not let them in."""
    found = {}
    for row in GETS:
        if let_in is not None and let_in != (row.expected("signed")[visitor] == "in"):
            continue
        with transaction.atomic():
            found[row.route] = told(ask(cast, visitor, row))
            transaction.set_rollback(True)
    return found


@pytest.mark.parametrize("visitor", OUTSIDE)
def test_nothing_of_an_unreleased_result_reaches_anybody(cast: Cast, visitor: str):
    before = read(cast, visitor, let_in=True)
    plant(cast)
    after = read(cast, visitor, let_in=True)
    refused = read(cast, visitor, let_in=False)
    assert len(after) > 20
    assert len(after) + len(refused) > 100
    meant = {route for who, route in MEANT if who == visitor}
    every = [(route, said) for one in (before, after, refused) for route, said in one.items()]
    shown = [(r, j) for r, said in every if r not in meant for j in JEWELS if j.encode() in said]
    assert shown == []
    assert [route for route in after if before[route] != after[route] and route not in meant] == []


def test_the_office_does_read_what_is_planted(cast: Cast):
    """Or the test above could not fail."""
    plant(cast)
    said = read(cast, "office")
    assert [route for route, one in said.items() if one.startswith(b"5")] == []
    every = b"".join(said.values())
    assert [jewel for jewel in JEWELS if jewel.encode() not in every] == []


def test_with_the_release_it_is_there_for_everybody(cast: Cast):
    result = Result.objects.get(pk=cast.values["result_id"])
    Question.objects.all().delete()
    RigReport.objects.all().delete()
    release_result(result=result, by=office_of(cast.show), at=AT)
    total = str(result.placings.earliest("place").total).encode()
    public = read(cast, "nobody")
    for route in ("/shows/<slug:slug>/results/", "/api/v1/shows/<slug:slug>/results"):
        assert total in public[route], route
    assert b"JEWEL-OF-PAPER" in read(cast, "owner")["/papers/<int:paper_id>/file"]

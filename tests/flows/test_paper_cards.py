"""Paper cards: from the printed sheet through two keyings to a result that counts them."""

from __future__ import annotations

import re
from collections.abc import Iterator
from datetime import timedelta
from io import BytesIO
from typing import Any

import pytest
import segno
from django.db import IntegrityError, transaction
from django.template.loader import render_to_string
from django.test import Client
from pypdf import PdfReader

from entries.models import Entry
from judging.actions.compute_result import compute_result
from judging.actions.version_scorecard import new_version, use_scorecard
from judging.models import CardMark, Judge, PaperCard, Placing, Scorecard
from judging.rules.round.paper_number import read_card_number
from reports import tasks
from reports.actions.draw_paper import draw_paper, lay_out
from reports.actions.redo_papers import redo_paper
from reports.actions.want_card_papers import want_card_papers
from reports.models import Paper
from reports.queries.card_papers import QUIET_MODULES, card_content, keying_address, square
from reports.queries.papers import current_papers, is_replaced, paper_by_code, papers_of
from showrun.errors import Conflict, NotFound, NotYet
from showrun.shows.models import Person, Show
from tests.drawn_papers import (
    demand_accessible,
    demand_inside,
    demand_sound,
    drawn_from,
    letters,
    pages_of,
    text,
    words_of,
)
from tests.judged_show import (
    AT,
    add_judges,
    build_show,
    class_of,
    draw_panel,
    fair,
    judge_of,
    mark_everything,
    office_of,
    rows_of,
    steward_of,
)
from tests.kept import kept_for_module

pytestmark = pytest.mark.django_db
SITE = "https://shows.example"


@pytest.fixture(autouse=True)
def sent(monkeypatch: pytest.MonkeyPatch, settings, tmp_path) -> list[int]:
    """Note what the queue is asked for instead of asking it; keep files apart."""
    asked: list[int] = []
    monkeypatch.setattr(tasks, "ask_for", lambda paper: asked.append(paper.pk))
    settings.MEDIA_ROOT = tmp_path
    settings.PUBLIC_URL = SITE
    return asked


@pytest.fixture(scope="module")
def kept_pk(django_db_setup: None, django_db_blocker: Any) -> Iterator[int]:
    """A show whose judges have their seats."""
    with kept_for_module(django_db_blocker):
        made = build_show()
        draw_panel(made)
        yield made.pk


@pytest.fixture
def show(kept_pk: int, db: None) -> Show:
    return Show.objects.get(pk=kept_pk)


def want(show: Show, entry: Entry | None = None) -> Paper:
    return want_card_papers(judge=judge_of(show), entry=entry, by=office_of(show), at=AT)


def wagons(judge: Judge) -> list[Entry]:
    return list(Entry.objects.filter(pk__in=judge.seats.values("entry")).order_by("number"))


def signed_in(person: Person) -> Client:
    client = Client()
    client.force_login(person)
    return client


def test_every_wagon_has_a_card_with_the_rows_of_its_rig(show: Show) -> None:
    drawn = demand_sound(want(show))
    judge = judge_of(show)
    heads = [page for page in pages_of(drawn) if "Judge Chidi Abara (J1)" in page]
    assert len(heads) == len(wagons(judge)) + 1
    for entry in wagons(judge):
        (page,) = [one for one in heads if entry.wagon_name in one]
        number = PaperCard.objects.get(judge=judge, entry=entry).number
        assert f"{SITE}/paper-cards/{number}/" in page
        for row in rows_of(judge, entry):
            assert row.name in page
        here = {row.code for row in rows_of(judge, entry)}
        for code, words in (("rg_queen_bolt", "Queen bolt"), ("hn_leaders", "Leaders' harness")):
            assert (words in page) == (code in here)
    said = text(drawn)
    for words in (
        "Remark",
        "Safety concern stop now mend before moving note",
        "Signed, card is handed in",
        "Begun at",
        "Zero is a mark: the judge looked",
        "Wagon, camp and harness, version 1",
    ):
        assert said.count(words) >= len(heads), words
    spare = heads[-1]
    assert "Spare card" in spare
    assert "paper-cards/" not in spare


def test_one_wagons_card_is_alone(show: Show) -> None:
    entry = wagons(judge_of(show))[0]
    drawn = lay_out(want(show, entry))
    assert drawn.pages == 1
    said = text(drawn)
    assert entry.wagon_name in said
    assert "Spare card" not in said


def test_drawn_twice_it_is_the_same_file_and_keeps_its_numbers(show: Show) -> None:
    paper = want(show)
    assert drawn_from(Paper.objects.get(pk=paper.pk)) == drawn_from(paper)
    alone = want(show, wagons(judge_of(show))[0])
    assert lay_out(Paper.objects.get(pk=alone.pk)).data == lay_out(alone).data
    numbers = set(PaperCard.objects.values_list("pk", flat=True))
    Paper.objects.update(state=Paper.State.FAILED)
    again = want(show)
    assert (again.version, paper.version) == (3, 1)
    assert set(PaperCard.objects.values_list("pk", flat=True)) == numbers


@pytest.mark.parametrize("size", ["letter", "a4"])
def test_paper_sizes(show: Show, size: str, settings) -> None:
    settings.PAPER_SIZE = size
    drawn = lay_out(want(show, wagons(judge_of(show))[0]))
    box = PdfReader(BytesIO(drawn.data)).pages[0].mediabox
    assert (round(box.width), round(box.height)) == {"letter": (612, 792), "a4": (595, 842)}[size]
    demand_inside(drawn)


def test_the_square_holds_the_address_of_its_cards_keying(show: Show) -> None:
    entry = wagons(judge_of(show))[0]
    (card,) = card_content(want(show, entry))["cards"]
    there = PaperCard.objects.get(entry=entry)
    assert card.address == f"{SITE}/paper-cards/{there.number}/" == keying_address(there.number)
    drawn = square(card.address)
    assert card.square == drawn
    # Every run back into modules, beside what the address encodes to.
    dark = set()
    for x, y, width in re.findall(r"M(\d+) (\d+)h(\d+)v1h-\d+z", drawn.path):
        dark |= {(int(x) + k - QUIET_MODULES, int(y) - QUIET_MODULES) for k in range(int(width))}
    matrix = segno.make(card.address, error="m", micro=False).matrix
    assert dark == {(x, y) for y, row in enumerate(matrix) for x, bit in enumerate(row) if bit}
    assert drawn.side == len(matrix) + 2 * QUIET_MODULES
    assert drawn.path in _html(show, entry)


def _html(show: Show, entry: Entry) -> str:
    content = card_content(Paper.objects.get(entry=entry))
    return render_to_string("reports/pdf/card.html", {**content, "page_size": "letter"})


def test_asked_again_while_it_waits_it_is_the_same_printing(show: Show) -> None:
    entry = wagons(judge_of(show))[0]
    one = want(show)
    assert want(show) == one
    other = want(show, entry)
    assert other != one
    assert {paper.version for paper in Paper.objects.all()} == {1, 2}


def test_cards_are_made_only_where_there_is_something_to_judge(show: Show) -> None:
    judge = judge_of(show)
    away = Entry.objects.filter(show=show).exclude(pk__in=judge.seats.values("entry")).first()
    stranger = away or Entry.objects.filter(show=build_show(slug="other"))[0]
    with pytest.raises(NotFound, match="does not sit"):
        want(show, stranger)
    (idle,) = add_judges(show, 1)
    with pytest.raises(NotYet, match="sits nowhere yet"):
        want_card_papers(judge=idle, by=office_of(show), at=AT)
    assert not Paper.objects.exists()


def test_a_new_version_of_the_scorecard_ends_the_printing(show: Show) -> None:
    paper = want(show)
    made = new_version(card=Scorecard.objects.get(), by=office_of(show), at=AT)
    use_scorecard(card=made, by=office_of(show), at=AT)
    with pytest.raises(Conflict, match="Print the cards anew"):
        lay_out(Paper.objects.get(pk=paper.pk))
    assert is_replaced(Paper.objects.get(pk=paper.pk))


def test_cards_are_the_offices_alone_and_no_sheet_of_a_result(show: Show, sent: list[int]) -> None:
    entry = wagons(judge_of(show))[0]
    where = f"/shows/{show.slug}/office/paper-cards/print/"
    office = signed_in(office_of(show))
    with transaction.atomic():
        answer = office.post(where, {"judge": judge_of(show).pk, "entry": entry.pk}, follow=True)
    assert "will be drawn now" in answer.content.decode()
    paper = Paper.objects.get()
    assert draw_paper(paper_id=paper.pk, at=AT).state == Paper.State.DONE  # type: ignore[union-attr]
    assert f"/papers/{paper.pk}/file" in office.get(where).content.decode()
    file = office.get(f"/papers/{paper.pk}/file")
    assert file.status_code == 200
    assert b"".join(file).startswith(b"%PDF")  # type: ignore[arg-type]
    paper.refresh_from_db()
    assert paper.download_name in file["Content-Disposition"]
    for person in (entry.exhibitor, judge_of(show).person, steward_of(show)):
        assert signed_in(person).get(f"/papers/{paper.pk}/file").status_code in (403, 404)
    assert Client().get(f"/papers/{paper.pk}/file").status_code == 404
    assert paper_by_code(paper.code) is None
    assert not current_papers(show)
    assert not papers_of(show)
    redo_paper(paper=paper, by=office_of(show), at=AT + timedelta(hours=1))
    before = paper.content_hash
    drawn = draw_paper(paper_id=paper.pk, at=AT + timedelta(hours=1))
    assert drawn is not None
    assert drawn.content_hash == before


def test_the_database_takes_no_card_without_judge_and_no_sheet_with_one(show: Show) -> None:
    paper = want(show)
    for change in ({"judge": None}, {"scorecard": None}, {"kind": "wall"}, {"kind": "award"}):
        with pytest.raises(IntegrityError), transaction.atomic():
            Paper.objects.filter(pk=paper.pk).update(**change)
    with pytest.raises(IntegrityError), transaction.atomic():
        Paper.objects.create(
            show=show, kind="card", version=1, judge=paper.judge, scorecard=paper.scorecard,
            code="A", wanted_at=AT,
        )  # fmt: skip


@pytest.mark.parametrize(
    "name", ["W" * 80, "עגלת האוכל של דוד", "<b>Bold</b> & 'sons' {{ 7|add:7 }}"]
)
def test_names_of_all_kinds_stay_on_the_page(show: Show, name: str) -> None:
    entry = wagons(judge_of(show))[0]
    Entry.objects.filter(pk=entry.pk).update(wagon_name=name, outfit=name)
    entry.refresh_from_db()
    drawn = lay_out(want(show, entry))
    assert drawn.pages <= 2
    demand_accessible(drawn)
    demand_inside(drawn)
    if name.isascii():
        assert letters(name) in letters(text(drawn))


def test_from_the_sheet_to_the_result(show: Show) -> None:
    """Print, read the address off the paper, key twice, differ, look, take, and count."""
    judge = judge_of(show)
    entry = wagons(judge)[-1]
    mark_everything(show, leave_out=[(judge.code, entry.number or 0)])
    said = letters(words_of(want(show, entry)))
    found = re.search(rf"{re.escape(SITE)}(/paper-cards/(\d+)/)", said)
    assert found
    where, number = found[1], found[2]
    assert PaperCard.objects.get(pk=read_card_number(number)).entry == entry
    office, steward = signed_in(office_of(show)), signed_in(steward_of(show))
    rows = rows_of(judge, entry)
    typed = {f"row:{row.code}": str(fair(judge, entry, row)) for row in rows}
    wrong = f"row:{rows[0].code}"
    form = {"do": "key", "signed": "yes", **typed}
    for client, over in ((office, {}), (steward, {wrong: "0"})):
        assert client.post(where, {**form, **over}).status_code == 302
    with pytest.raises(NotYet):
        compute_result(show_class=class_of(show), by=office_of(show), at=AT)
    assert office.post(where, {"do": "look", f"chosen {wrong}": "first"}).status_code == 302
    assert office.post(where, {"do": "take"}).status_code == 302
    assert CardMark.objects.filter(card__judge=judge, card__entry=entry).count() == len(rows)
    result = compute_result(show_class=class_of(show), by=office_of(show), at=AT)
    # The same marks by phone give the same result.
    other = build_show(slug="by-phone")
    draw_panel(other)
    mark_everything(other)
    phone = compute_result(show_class=class_of(other), by=office_of(other), at=AT)
    assert _totals(result.pk) == _totals(phone.pk)
    assert entry.number in _totals(result.pk)


def _totals(result_id: int) -> dict[int | None, tuple[int, object]]:
    rows = Placing.objects.filter(result=result_id).values_list("entry__number", "place", "total")
    return {number: (place, total) for number, place, total in rows}

"""Camp signs and number plates: a page a wagon, from the office's button to the PDF."""

from __future__ import annotations

from io import BytesIO

import pytest
from django.test import Client
from django.utils import timezone
from pypdf import PdfReader

from entries.models import CampSpot, Entry
from entries.rules.places import Status
from reports import tasks
from reports.actions.draw_paper import draw_paper, lay_out
from reports.actions.want_camp_papers import want_camp_papers
from reports.models import Paper
from reports.queries.papers import current_papers, is_replaced
from reports.rules.plates import DIGIT_HEIGHT
from showrun.errors import NotYet
from showrun.shows.models import AuditEntry, Person, Show
from tests.drawn_papers import (
    demand_accessible,
    demand_inside,
    demand_sound,
    drawn_from,
    letters,
    pages_of,
    words_of,
)
from tests.people import NOW, EntryFactory

pytestmark = pytest.mark.django_db
SIGNS, PLATES = Paper.Kind.SIGNS, Paper.Kind.PLATES
NAMES = [
    "Tin Sparrow",
    "W" * 80,
    "The Greater Cottonwood Slough Co-operative Supper and Provision Wagon",
    "Éowyn Łódź Ñandú Þórr",
    "עגלת האוכל של דוד",
    "<b>Bold</b> & 'sons' {{ 7|add:7 }}",
]


@pytest.fixture(autouse=True)
def sent(monkeypatch: pytest.MonkeyPatch, settings, tmp_path) -> list[int]:
    """Note what the queue is asked for instead of asking it; keep files apart."""
    asked: list[int] = []
    monkeypatch.setattr(tasks, "ask_for", lambda paper: asked.append(paper.pk))
    settings.MEDIA_ROOT = tmp_path
    settings.PUBLIC_URL = "https://shows.example"
    return asked


def wagons(show: Show, n: int, names: list[str] = NAMES) -> list[Entry]:
    """Confirm so many wagons, each on a spot of its own but the last."""
    for number in range(4, n):
        CampSpot.objects.create(show=show, number=number, x_ft=50.0 * number, y_ft=0)
    return [
        EntryFactory.create(
            show=show, number=k, status=Status.CONFIRMED.value,
            wagon_name=names[(k - 1) % len(names)], outfit=f"Outfit {k}",
            spot=CampSpot.objects.filter(show=show, number=k).first(),
        )
        for k in range(1, n + 1)
    ]  # fmt: skip


def want(show: Show, kind: Paper.Kind = SIGNS) -> Paper:
    return want_camp_papers(show=show, kind=kind, by=None, at=NOW)


@pytest.mark.parametrize("size", ["letter", "a4"])
@pytest.mark.parametrize("kind", [SIGNS, PLATES])
def test_any_name_fits_its_page_on_both_papers(show: Show, kind: Paper.Kind, size: str, settings):
    settings.PAPER_SIZE = size
    made = wagons(show, len(NAMES))
    drawn = lay_out(want(show, kind))
    assert drawn.pages == len(made)
    demand_accessible(drawn)
    demand_inside(drawn)
    boxes = {
        (round(one.mediabox.width), round(one.mediabox.height))
        for one in PdfReader(BytesIO(drawn.data)).pages
    }
    upright = {"letter": (612, 792), "a4": (595, 842)}[size]
    assert boxes == {upright if kind == SIGNS else upright[::-1]}
    for entry, page in zip(made, pages_of(drawn), strict=True):
        assert letters(show.name) in letters(page)
        if entry.wagon_name != NAMES[4]:  # read back from right to left
            assert letters(entry.wagon_name) in letters(page)


def test_a_sign_says_number_names_spot_and_the_way_to_the_show(show: Show):
    made = wagons(show, 4)
    said = pages_of(demand_sound(want(show)))
    for entry, page in zip(made, said, strict=True):
        assert page.partition("Days ")[2].startswith(str(entry.number))
        assert entry.outfit in page
        assert letters(f"https://shows.example/shows/{show.slug}/") in letters(page)
        assert "not a safety inspection" in page
    assert "Camp spot 2" in said[1]
    assert "Camp spot: ask at the office" in said[3]


@pytest.mark.parametrize("n", [1, 40])
@pytest.mark.parametrize("kind", [SIGNS, PLATES])
def test_one_wagon_or_forty_are_a_page_each(show: Show, kind: Paper.Kind, n: int):
    wagons(show, n)
    paper = want(show, kind)
    drawn = lay_out(paper)
    assert drawn.pages == n
    assert drawn_from(Paper.objects.get(pk=paper.pk)) == drawn_from(paper)
    assert all(paper.code_printed in page for page in pages_of(drawn))


@pytest.mark.parametrize("kind", [SIGNS, PLATES])
def test_drawn_again_it_is_the_same_file(show: Show, kind: Paper.Kind):
    wagons(show, 2)
    paper = want(show, kind)
    assert lay_out(Paper.objects.get(pk=paper.pk)).data == lay_out(paper).data


def test_a_plate_has_its_number_as_words_and_large(show: Show):
    (entry,) = wagons(show, 1)
    Entry.objects.filter(pk=entry.pk).update(number=27)
    drawn = demand_sound(want(show, PLATES))
    (page,) = PdfReader(BytesIO(drawn.data)).pages
    tall: list[float] = []

    def look(words: str, cm, tm, font, size: float) -> None:
        if words.strip() == "27":
            tall.append(size * abs(tm[3] * cm[3]))

    page.extract_text(visitor_text=look)
    # Five inches are read from fifty feet.
    assert max(tall) * DIGIT_HEIGHT / 72 >= 5


def test_a_new_printing_takes_the_place_of_the_last(show: Show):
    wagons(show, 2)
    old = draw_paper(paper_id=want(show).pk, at=NOW)
    assert old and old.state == Paper.State.DONE
    new = want(show)
    assert (new.version, want(show)) == (2, new), "while it waits it is asked for once"
    plates = want(show, PLATES)
    assert set(current_papers(show)) == {new, plates}
    assert (is_replaced(old), is_replaced(new)) == (True, False)
    assert AuditEntry.objects.filter(show=show, verb="wanted").count() == 3
    # The old file is what was printed then.
    assert "Tin Sparrow" in words_of(old)


def test_scratched_wagons_get_none_and_no_wagon_is_no_paper(show: Show):
    with pytest.raises(NotYet, match="confirmed"):
        want(show)
    made = wagons(show, 2)
    paper = want(show)
    Entry.objects.filter(pk=made[0].pk).update(status=Status.SCRATCHED.value)
    assert lay_out(paper).pages == 1
    Entry.objects.filter(pk=made[1].pk).update(status=Status.SCRATCHED.value)
    with pytest.raises(NotYet, match="nothing to print"):
        lay_out(paper)
    with pytest.raises(ValueError, match="no paper of the camp"):
        want(show, Paper.Kind.WALL)


def test_the_office_prints_and_fetches_them_and_nobody_else(
    client: Client,
    show: Show,
    office: Person,
    steward: Person,
    sent: list[int],
    django_capture_on_commit_callbacks,
):
    (entry,) = wagons(show, 1)
    client.force_login(office)
    page = f"/shows/{show.slug}/office/papers/"
    there = client.get(page).content.decode()
    assert "Print signs" in there and "Print plates" in there
    with django_capture_on_commit_callbacks(execute=True):
        for deed in ("signs", "plates"):
            client.post(page, {"deed": deed})
    assert sent == list(Paper.objects.order_by("pk").values_list("pk", flat=True))
    for pk in sent:
        draw_paper(paper_id=pk, at=timezone.now())
    there = client.get(page).content.decode()
    assert "Download the camp signs" in there and "Download the number plates" in there
    assert "Each paper" not in there, "they stand in their own part of the page"
    paper = Paper.objects.get(kind=SIGNS)
    where = f"/papers/{paper.pk}/file"
    answer = client.get(where)
    named = f'attachment; filename="signs-{show.slug}-v1.pdf"'
    assert answer["Content-Disposition"] == named
    assert b"".join(answer).startswith(b"%PDF-")  # type: ignore[arg-type]
    assert client.get(f"/papers/check/{paper.code_printed}/").status_code == 200
    for other, status in ((steward, 403), (entry.exhibitor, 404)):
        client.force_login(other)
        assert client.get(where).status_code == status

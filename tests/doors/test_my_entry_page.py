"""My entry: what its exhibitor may know of it, and when."""

from __future__ import annotations

import re

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from entries.actions.decide_entry import put_on_wait_list, scratch_entry
from entries.actions.enter import enter
from entries.models import Entry
from judging.models import ClassCard, Placing, Visit
from reports.models import Paper
from showrun.shows.models import Person, Show
from tests.judged_show import (
    AT,
    BEFORE,
    RIGS,
    build_show,
    entry_of,
    judge_of,
    mark_everything,
    office_of,
    open_window,
    release_results,
    steward_of,
)

pytestmark = pytest.mark.django_db


@pytest.fixture
def show() -> Show:
    return build_show()


def as_person(person: Person) -> Client:
    client = Client()
    client.force_login(person)
    return client


def page(entry: Entry) -> str:
    return reverse("reports:my-entry", args=[entry.pk])


def read(entry: Entry, person: Person | None = None) -> str:
    answer = as_person(person or entry.exhibitor).get(page(entry))
    assert answer.status_code == 200
    return answer.content.decode()


def one_more(show: Show) -> Entry:
    """Return an entry made as exhibitors make it, not confirmed by anybody."""
    return enter(
        show=show,
        exhibitor=Person.objects.create_user(email="late@showrun.example", name="Late Cook"),
        wagon_name="Late Supper",
        rig=RIGS[0],
        classes=["trail"],
        crew=[{"name": "A", "role": "head_cook"}, {"name": "B", "role": "cook"}],
        at=BEFORE,
    )


def test_it_is_the_exhibitors_and_the_offices(show: Show, stranger: Person):
    entry = entry_of(show, 1)
    assert as_person(entry.exhibitor).get(page(entry)).status_code == 200
    assert as_person(office_of(show)).get(page(entry)).status_code == 200
    assert as_person(steward_of(show)).get(page(entry)).status_code == 200
    # what belongs to somebody else is not told to exhibitors and judges either
    assert as_person(entry_of(show, 2).exhibitor).get(page(entry)).status_code == 404
    assert as_person(judge_of(show).person).get(page(entry)).status_code == 404
    assert as_person(stranger).get(page(entry)).status_code == 404
    assert Client().get(page(entry)).status_code == 404
    assert as_person(stranger).get("/entries/999999/").status_code == 404


def test_a_confirmed_entry_says_number_spot_rig_and_crew(show: Show):
    text = read(entry_of(show, 2))
    assert "Number 2, camp spot 2." in text
    assert "stiff tongue, four-up, leather tugs, civil pattern, pole straps" in text
    assert "Cook 2, head cook" in text
    assert "50 ft of frontage" in text
    assert "A score is not a safety inspection." in text


def test_every_standing_is_said_in_words(show: Show):
    waiting = one_more(show)
    assert "On the wait list, number 1 in line" in read(waiting)
    put_on_wait_list(entry=entry_of(show, 5), by=office_of(show), at=AT)
    assert "On the wait list, number 2 in line" in read(waiting)  # the older entry is first
    Show.objects.filter(pk=show.pk).update(entry_cap=9)
    scratch_entry(entry=entry_of(show, 3), by=office_of(show), at=AT, reason="Axle broke.")
    text = read(entry_of(show, 3))
    assert "Scratched" in text
    assert "Axle broke." in text
    assert "When judges come" not in text


def test_an_entry_with_a_place_waits_for_the_office(show: Show):
    Show.objects.filter(pk=show.pk).update(entry_cap=9)
    text = read(one_more(show))
    assert "Entered" in text
    assert "The office confirms it next." in text
    assert "Results and papers" not in text


def test_only_rows_of_this_rig_and_its_classes_are_listed(show: Show):
    drop_team, stiff_team = read(entry_of(show, 1)), read(entry_of(show, 4))
    assert "Queen bolt and drop-tongue hounds" in drop_team
    assert "Queen bolt and drop-tongue hounds" not in stiff_team
    assert "Pole straps" not in stiff_team
    entry = entry_of(show, 1)
    entry.classes.filter(show_class__code="trail").delete()
    harness_only = read(entry)
    assert "Leather, condition" in harness_only
    assert "Spokes and felloes" not in harness_only


def test_what_to_prepare_and_how_each_class_is_judged_are_a_link_and_a_list(show: Show):
    entry = entry_of(show, 2)
    client = as_person(entry.exhibitor)
    text = client.get(page(entry)).content.decode()
    rig = "&amp;".join(f"{fact}={value}" for fact, value in entry.rig.facts().items())
    prepare = reverse("judging:prepare", args=[show.slug])
    assert f'href="{prepare}?{rig}"' in text
    assert f'href="{reverse("judging:show-handbook", args=[show.slug])}"' in text
    assert client.get(f"{prepare}?{rig.replace('&amp;', '&')}").status_code == 200
    assert "How Trail wagon and Working harness are judged" in text
    assert text.count("Zero is a mark: the judge looked and gave nothing.") == 1
    ClassCard.objects.filter(show_class__code="trail").update(
        not_inspected="zero", policy_note="Chains <b>clean</b>."
    )
    apart = client.get(page(entry)).content.decode()
    assert "How Trail wagon is judged" in apart
    assert "How Working harness is judged" in apart
    assert "A row that could not be inspected counts as zero." in apart
    assert "Chains &lt;b&gt;clean&lt;/b&gt;." in apart


def test_visits_stand_only_once_published_and_name_no_judge(show: Show):
    entry = entry_of(show, 1)
    open_window(show, publish=False)
    text = read(entry)
    assert "The times are not published yet." in text
    assert "Judge visit" not in text
    open_window(show)
    text = read(entry)
    visits = list(Visit.objects.filter(entry=entry).order_by("starts_at"))
    assert len(re.findall("Judge visit", text)) == len(visits) > 1
    for number, visit in enumerate(visits, start=1):
        local = visit.starts_at.astimezone(show.tz)
        line = re.search(rf"Judge visit {number}</th>(.*?)</tr>", text, re.S)
        assert line
        assert f"{local:%-I:%M}–" in line[1]
        assert re.search(r'data-label="Looks at">\w', line[1])
    for code in ("J1", "J2", "J3", "J4"):
        judge = judge_of(show, code)
        assert judge.person.name not in text
        assert not re.search(rf"\b{code}\b", text)


def test_results_stand_only_after_release(show: Show):
    entry = entry_of(show, 4)
    mark_everything(show)
    text = read(entry)
    assert "Trail wagon, Working harness: not released yet." in text
    assert "place" not in text.split("not released yet")[0].split("Results and papers")[1]
    trail = release_results(show)[0]
    placing = Placing.objects.get(result=trail, entry=entry)
    text = read(entry)
    assert f"<strong>First place</strong> with {placing.total} of 200 points" in text
    assert f"{placing.by_section['running_gear']} of 80" in text
    assert "not released yet" not in text
    assert "The papers are not made yet." in text


def test_a_shared_place_is_called_shared(show: Show):
    mark_everything(show, value=7)
    release_results(show)
    assert "First place, shared" in read(entry_of(show, 1))


def test_finished_papers_are_linked_for_their_own_entry_alone(show: Show):
    mark_everything(show)
    trail = release_results(show)[0]
    entry = entry_of(show, 4)
    for state, kind in ((Paper.State.DONE, "feedback"), (Paper.State.WANTED, "award")):
        Paper.objects.create(
            show=show, kind=kind, show_class=trail.show_class, entry=entry, result=trail,
            version=1, state=state, code=f"CODE-{kind}", wanted_at=AT,
            file="papers/sheet.pdf", content_hash="0" * 64,
        )  # fmt: skip
    text = read(entry)
    paper = Paper.objects.get(kind="feedback")
    assert reverse("reports:paper-file", args=[paper.pk]) in text
    assert "Feedback sheet (PDF)" in text
    assert "Award sheet (PDF)" not in text
    assert "(PDF)" not in read(entry_of(show, 1))


def test_the_office_sees_whose_it_is_and_a_way_back(show: Show):
    entry = entry_of(show, 2)
    text = read(entry, office_of(show))
    assert "Exhibitor: Cook 2" in text
    assert reverse("entries:office-entries", args=[show.slug]) in text
    assert "Exhibitor: " not in read(entry)


def test_queries_do_not_grow_with_the_show(show: Show):
    def queries(show: Show) -> int:
        client = as_person(entry_of(show, 1).exhibitor)
        address = page(entry_of(show, 1))
        with CaptureQueriesContext(connection) as asked:
            assert client.get(address).status_code == 200
        return len(asked)

    def judge_all(show: Show) -> None:
        open_window(show)
        mark_everything(show)
        release_results(show)

    judge_all(show)
    few = queries(show)
    big = build_show(slug="big", n_entries=9, n_judges=6, judges_per_section=3)
    judge_all(big)
    assert queries(big) == few

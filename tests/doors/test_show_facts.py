"""The office changes the show's name and days, its classes, and who is in which."""

from __future__ import annotations

import re
from datetime import date, timedelta
from typing import Any

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from entries.actions.decide_entry import scratch_entry
from entries.models import Entry, EntryClass
from judging.actions.release_result import release_result
from judging.actions.seasons import add_class, make_season
from judging.models import ClassCard, Window
from showrun.shows.models import AuditEntry, Show, ShowClass
from tests.judged_show import (
    AT,
    add_entries,
    build_show,
    class_of,
    entry_of,
    mark_everything,
    office_of,
    open_window,
)
from tests.released_show import signed

pytestmark = pytest.mark.django_db


@pytest.fixture
def show() -> Show:
    return build_show(n_entries=3)


def page(show: Show) -> str:
    return reverse("judging:show-facts", args=[show.slug])


def office(show: Show) -> Client:
    client = Client()
    client.force_login(office_of(show))
    return client


def read(show: Show) -> str:
    answer = office(show).get(page(show))
    assert answer.status_code == 200
    return answer.content.decode()


def days(show: Show, **more: Any) -> dict[str, Any]:
    judged = show.judging_starts_at.astimezone(show.tz).date()
    kept = {
        "name": show.name,
        "ground": show.ground,
        "starts_on": show.starts_on,
        "ends_on": show.ends_on,
        "judged_on": judged,
    }
    return {"do": "days", **{f"days-{name}": value for name, value in (kept | more).items()}}


def send(show: Show, sent: dict[str, Any]) -> tuple[int, str]:
    answer = office(show).post(page(show), sent)
    return answer.status_code, answer.content.decode()


def refused(show: Show, sent: dict[str, Any], status: int, words: str) -> None:
    """It is refused with these words, and nothing is written."""
    lines = AuditEntry.objects.count()
    got, text = send(show, sent)
    assert (got, "data-faults" in text) == (status, True)
    assert words in re.sub(r"\s+", " ", text).replace("&#x27;", "'")
    assert AuditEntry.objects.count() == lines


def of_class(prefix: str, name: str, places: str = "3", /, **more: Any) -> dict[str, Any]:
    given = {
        f"{prefix}-name": name,
        f"{prefix}-places": places,
        f"{prefix}-description": "For all.",
    }
    return {**given, **more}


# --- Name and days -----------------------------------------------------------------------------


def test_a_name_mistyped_is_put_right_and_the_record_says_what_changed(show: Show):
    assert send(show, days(show, name="Four Kettles Days"))[0] == 302
    show.refresh_from_db()
    assert show.name == "Four Kettles Days"
    line = AuditEntry.objects.get(show=show, verb="changed", subject="the show")
    assert line.before == {"name": "Three Kettles Chuckwagon Days"}
    assert line.after == {"name": "Four Kettles Days"}
    assert line.actor == office_of(show)


def test_a_show_put_off_by_a_week_keeps_the_hour_of_judging(show: Show):
    open_window(show, publish=False)
    week, before = timedelta(days=7), show.judging_starts_at.astimezone(show.tz)
    later = {
        "starts_on": show.starts_on + week,
        "ends_on": show.ends_on + week,
        "judged_on": before.date() + week,
    }
    assert send(show, days(show, **later))[0] == 302
    show.refresh_from_db()
    after = show.judging_starts_at.astimezone(show.tz)
    assert (after.date(), after.time()) == (before.date() + week, before.time())
    assert show.starts_on == later["starts_on"]
    assert not Window.objects.filter(show=show).exists(), "it is sized again"


def test_published_times_hold_the_day_of_judging_and_nothing_else(show: Show):
    open_window(show)
    other = show.judging_starts_at.astimezone(show.tz).date() + timedelta(days=1)
    refused(show, days(show, ends_on=other, judged_on=other), 409, "withdraw them before")
    assert send(show, days(show, ends_on=other, ground="The far meadow"))[0] == 302
    show.refresh_from_db()
    assert (show.ends_on, show.ground) == (other, "The far meadow")


@pytest.mark.parametrize(
    ("more", "status", "words"),
    [
        ({"name": ""}, 422, "What is the show called?"),
        ({"starts_on": "soon"}, 422, "A day such as 2027-05-14, please."),
        ({"ends_on": date(2020, 1, 1)}, 422, "The show ends before it starts."),
        ({"judged_on": date(2020, 1, 1)}, 422, "The judging falls outside the show’s days."),
    ],
)
def test_days_that_do_not_go_together_are_refused(
    show: Show, more: dict[str, Any], status: int, words: str
):
    refused(show, days(show, **more), status, words)


# --- Classes -------------------------------------------------------------------------------------


def test_a_class_forgotten_is_added_and_found_where_classes_are(show: Show):
    assert send(show, of_class("add", "Ladies' wagon", do="add"))[0] == 302
    made = ShowClass.objects.get(show=show, name="Ladies' wagon")
    assert (made.code, made.places_awarded) == ("ladies_wagon", 3)
    assert made.position == max(show.classes.values_list("position", flat=True))
    assert "not declared yet" in read(show)
    assert (
        office(show).get(reverse("judging:declare", args=[show.slug, made.pk])).status_code == 200
    )
    assert (
        "Ladies&#x27; wagon"
        in office(show).get(reverse("judging:scorecard", args=[show.slug])).content.decode()
    )


def test_two_names_that_give_one_code_have_two(show: Show):
    for name in ("Open wagon", "Open  wagon!"):
        assert send(show, of_class("add", name, do="add"))[0] == 302
    codes = show.classes.filter(name__startswith="Open").values_list("code", flat=True)
    assert set(codes) == {"open_wagon", "open_wagon_2"}


@pytest.mark.parametrize(
    ("name", "places", "status", "words"),
    [
        ("", "3", 422, "What is the class called?"),
        ("trail WAGON", "3", 422, "There is a class of that name."),
        ("Open wagon", "0", 422, "At least one, please."),
        ("Open wagon", "some", 422, "A whole number, please."),
    ],
)
def test_a_class_without_sense_is_not_added(
    show: Show, name: str, places: str, status: int, words: str
):
    refused(show, of_class("add", name, places, do="add"), status, words)


def test_a_class_is_renamed_and_its_awards_changed_before_judging(show: Show):
    one = class_of(show)
    prefix = f"class-{one.pk}"
    sent = of_class(prefix, "Trail wagons", "5", do="change", **{"class": one.pk})
    assert send(show, sent)[0] == 302
    one.refresh_from_db()
    assert (one.name, one.places_awarded, one.description) == ("Trail wagons", 5, "For all.")
    line = AuditEntry.objects.get(show=show, verb="changed", subject="class Trail wagons")
    assert line.before["places_awarded"] == 3
    assert send(show, sent)[0] == 302
    assert AuditEntry.objects.filter(subject="class Trail wagons").count() == 1, "nothing changed"


def test_once_judging_has_begun_awards_classes_and_wagons_stay(show: Show):
    mark_everything(show)
    one, entry = class_of(show), entry_of(show)
    of_one: dict[str, Any] = {"do": "change", "class": one.pk}
    refused(show, of_class("add", "Late class", do="add"), 409, "Judging has begun")
    refused(show, of_class(f"class-{one.pk}", one.name, "9", **of_one), 409, "Judging has begun")
    refused(show, wagons({entry: [one]}), 409, "Judging has begun")
    text = read(show)
    assert "so none is added now" in text
    assert 'type="checkbox"' not in text
    assert send(show, of_class(f"class-{one.pk}", "Trail wagons", "3", **of_one))[0] == 302


def test_a_released_name_stays(show: Show):
    mark_everything(show)
    one = class_of(show)
    release_result(result=signed(show), by=office_of(show), at=AT)
    sent = of_class(f"class-{one.pk}", "Another", do="change", **{"class": one.pk})
    refused(show, sent, 409, "released under this name")


def test_an_empty_class_goes_with_what_it_declared_and_an_entered_one_stays(show: Show):
    one = class_of(show)
    send(show, of_class("add", "Open wagon", do="add"))
    refused(show, {"do": "remove", "class": one.pk}, 409, "have entered this class")
    made = ShowClass.objects.get(show=show, name="Open wagon")
    kept = ClassCard.objects.get(show_class=one)
    kept.pk, kept.show_class = None, made
    kept.save()
    season = make_season(
        show=show, name="Lantern Season", points=["5"], best_of=None, by=office_of(show), at=AT
    )
    row = add_class(season=season, show_class=made, by=office_of(show), at=AT)
    refused(show, {"do": "remove", "class": made.pk}, 409, "season or a food round")
    row.delete()
    assert send(show, {"do": "remove", "class": made.pk})[0] == 302
    assert not ShowClass.objects.filter(pk=made.pk).exists()
    assert AuditEntry.objects.get(show=show, verb="removed").before["name"] == "Open wagon"


def test_the_only_class_stays(show: Show):
    one = class_of(show)
    EntryClass.objects.filter(entry__show=show).delete()
    assert send(show, {"do": "remove", "class": class_of(show, "working_harness").pk})[0] == 302
    refused(show, {"do": "remove", "class": one.pk}, 409, "one class at least")


@pytest.mark.parametrize("do", ["remove", "change", "wagons", "", "all"])
def test_what_names_no_class_of_the_show_changes_nothing(show: Show, do: str):
    other = build_show(slug="four-kettles", n_entries=1)
    theirs = class_of(other)
    lines = AuditEntry.objects.count()
    entry = entry_of(show)
    sent = {"do": do, "class": theirs.pk, "wagon": [entry_of(other).pk, entry.pk]}
    sent |= {f"in-{entry.pk}-{theirs.pk}": "on"} | of_class(f"class-{theirs.pk}", "Mine")
    status, text = send(show, sent)
    assert status in (400, 404, 422)
    assert "data-faults" in text
    assert AuditEntry.objects.count() == lines
    theirs.refresh_from_db()
    assert theirs.name != "Mine"


# --- Who is in which --------------------------------------------------------------------------


def test_wagons_are_put_into_a_class_that_came_late_and_the_record_says_so(show: Show):
    send(show, of_class("add", "Open wagon", do="add"))
    made = ShowClass.objects.get(show=show, name="Open wagon")
    old, one, two = list(show.classes.exclude(pk=made.pk)), entry_of(show, 1), entry_of(show, 2)
    sent = wagons({one: [made, *old], two: old})
    answer = office(show).post(page(show), sent, follow=True)
    assert "1 wagon is in other classes now" in answer.content.decode()
    assert classes_in(one) == {made.pk, *(each.pk for each in old)}
    assert classes_in(two) == {each.pk for each in old}
    line = AuditEntry.objects.get(show=show, verb="changed classes")
    names = [each.name for each in old]
    assert (line.before, line.after) == (names, [*names, "Open wagon"])


def test_a_wagon_is_never_left_without_a_class_and_the_ticks_stay_on_the_page(show: Show):
    entry = entry_of(show)
    sent = wagons({entry: []})
    refused(show, sent, 422, "would be in no class")
    text = send(show, sent)[1]
    box = re.search(rf'<input type="checkbox" name="in-{entry.pk}-[^>]*>', text)
    assert box
    assert "checked" not in box[0], "as it was sent"


def test_a_wagon_that_left_is_not_asked_for_and_not_changed(show: Show):
    entry = entry_of(show)
    scratch_entry(entry=entry, by=office_of(show), at=AT, reason="Axle")
    assert entry.wagon_name not in read(show)
    status, _ = send(show, {"do": "wagons", "wagon": [entry.pk]})
    assert status == 404


def wagons(ticked: dict[Entry, list[ShowClass]]) -> dict[str, Any]:
    boxes = [f"in-{entry.pk}-{one.pk}" for entry, classes in ticked.items() for one in classes]
    return {"do": "wagons", "wagon": [entry.pk for entry in ticked], **dict.fromkeys(boxes, "on")}


def classes_in(entry: Entry) -> set[int]:
    return set(entry.classes.values_list("show_class_id", flat=True))


def test_queries_do_not_grow_with_wagons_and_classes(show: Show):
    client = office(show)

    def queries() -> int:
        with CaptureQueriesContext(connection) as asked:
            assert client.get(page(show)).status_code == 200
        return len(asked)

    few = queries()
    add_entries(show, 6)
    for n in range(4):
        send(show, of_class("add", f"Class {n}", do="add"))
    assert queries() == few

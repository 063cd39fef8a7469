"""Entering a wagon, and the office's list of entries."""

from __future__ import annotations

from typing import Any

import pytest
from django.contrib.messages import get_messages
from django.test import Client
from django.urls import reverse
from django.utils.html import escape

from entries.models import Entry
from entries.rules.places import Status
from judging.models import Judge
from showrun.shows.models import AuditEntry, Person, Show, ShowClass
from tests.people import RIG, EntryFactory, ShowFactory

pytestmark = pytest.mark.django_db


def filled(**other: Any) -> dict[str, Any]:
    """A whole entry form, with what is said otherwise."""
    return {
        "wagon_name": "Tin Sparrow",
        "outfit": "Tin Sparrow Outfit",
        "history": "A replica, all wood.",
        "classes": ["trail"],
        **RIG,
        "crew_name_1": "Obadiah Quillfeather",
        "crew_role_1": "head_cook",
        "crew_name_2": "Mirela Stroud",
        "crew_role_2": "cook",
        **{f"crew_name_{n}": "" for n in (3, 4, 5, 6)},
        **{f"crew_role_{n}": "helper" for n in (3, 4, 5, 6)},
        **other,
    }


def said(answer: Any) -> str:
    return " ".join(str(message) for message in get_messages(answer.wsgi_request))


def enter_page(show: Show) -> str:
    return reverse("entries:enter", args=[show.slug])


def list_page(show: Show) -> str:
    return reverse("entries:office-entries", args=[show.slug])


# --- Entering ---------------------------------------------------------------------------


def test_entering_needs_signing_in_and_comes_back(client: Client, show: Show):
    answer = client.get(enter_page(show))
    assert answer.status_code == 302
    assert answer["Location"] == f"/sign-in/?next={enter_page(show)}"


def test_a_show_that_is_not_there(client: Client, stranger: Person):
    client.force_login(stranger)
    assert client.get(reverse("entries:enter", args=["nowhere"])).status_code == 404


def test_the_form_asks_everything_without_a_script(client: Client, show: Show, stranger: Person):
    client.force_login(stranger)
    text = client.get(enter_page(show)).content.decode()
    for name in (*RIG, "wagon_name", "outfit", "history", "classes"):
        assert f'name="{name}"' in text
    for n in range(1, 7):
        assert f'name="crew_name_{n}"' in text
        assert f'for="crew_name_{n}"' in text
    assert "3 places left" in text
    assert "style=" not in text
    # The one script is a comfort: it saves the draft and says feet in metres.
    assert text.count("<script") == text.count('<script type="module" src="/static/') == 1


def test_a_whole_form_takes_a_place(client: Client, show: Show, stranger: Person):
    client.force_login(stranger)
    answer = client.post(enter_page(show), filled())
    entry = Entry.objects.get()
    assert answer["Location"] == reverse("reports:my-entry", args=[entry.pk])
    assert "has a place" in said(answer)
    assert (entry.exhibitor, entry.status) == (stranger, Status.ENTERED)
    assert entry.rig.facts() == RIG
    assert [m.role for m in entry.crew.all()] == ["head_cook", "cook"]
    assert [c.show_class.code for c in entry.classes.all()] == ["trail"]
    assert entry.history == "A replica, all wood."


def test_a_full_show_says_the_place_in_line(client: Client, show: Show, stranger: Person):
    EntryFactory.create_batch(3, show=show)
    EntryFactory.create(show=show, status=Status.WAITING.value)
    client.force_login(stranger)
    assert b"wait list" in client.get(enter_page(show)).content
    answer = client.post(enter_page(show), filled())
    assert "on the wait list, at place 2" in said(answer)


def test_an_empty_form_says_what_every_field_lacks(client: Client, show: Show, stranger: Person):
    client.force_login(stranger)
    answer = client.post(enter_page(show), {})
    assert answer.status_code == 422
    faults = answer.context["form"].faults
    assert set(faults) == {"wagon_name", "classes", "crew", *RIG}
    text = answer.content.decode()
    for name, sentence in faults.items():
        assert escape(sentence) in text
        assert f'id="{name}-fault"' in text
    # Each line of the summary leads to something on the page.
    for target, _ in answer.context["form"].fault_list():
        assert f'id="{target}"' in text
    assert not Entry.objects.exists()


@pytest.mark.parametrize(
    ("wrong", "field"),
    [
        ({"wagon_name": "  "}, "wagon_name"),
        ({"wagon_name": "W" * 81}, "wagon_name"),
        ({"outfit": "O" * 81}, "outfit"),
        ({"history": "H" * 2001}, "history"),
        ({"classes": []}, "classes"),
        ({"classes": ["rodeo"]}, "classes"),
        ({"tongue": ""}, "tongue"),
        ({"hitch": "nine_up"}, "hitch"),
        ({"crew_name_2": ""}, "crew"),
        ({"crew_role_2": "head_cook"}, "crew"),
        ({"crew_role_2": "king"}, "crew"),
        ({"crew_name_2": "Obadiah Quillfeather"}, "crew"),
        ({"crew_name_2": "N" * 121}, "crew"),
    ],
)
def test_a_refusal_names_the_field_and_keeps_what_was_typed(
    client: Client, show: Show, stranger: Person, wrong: dict[str, Any], field: str
):
    client.force_login(stranger)
    typed = filled(**wrong)
    answer = client.post(enter_page(show), typed)
    assert answer.status_code == 422
    assert list(answer.context["form"].faults) == [field]
    assert not Entry.objects.exists()
    text = answer.content.decode()
    for name in ("wagon_name", "outfit", *(f"crew_name_{n}" for n in range(1, 7))):
        assert f'name="{name}"' in text
        assert escape(typed[name]) in text
    assert escape(typed["history"]) in text
    for name, value in RIG.items():
        if name != field:
            assert f'id="{name}-{value}" name="{name}" value="{value}" checked' in text
    if field != "classes":
        assert 'value="trail" checked' in text
        assert 'value="ranch" checked' not in text


def test_pressing_twice_does_not_enter_twice(client: Client, show: Show, stranger: Person):
    client.force_login(stranger)
    client.post(enter_page(show), filled())
    again = client.post(enter_page(show), filled(wagon_name="TIN sparrow"))
    assert again.status_code == 422
    assert list(again.context["form"].faults) == ["wagon_name"]
    assert client.post(enter_page(show), filled(wagon_name="Second Wagon")).status_code == 302
    assert Entry.objects.count() == 2


def test_a_scratched_wagon_can_be_entered_again(client: Client, show: Show, stranger: Person):
    EntryFactory.create(
        show=show, exhibitor=stranger, wagon_name="Tin Sparrow", status=Status.SCRATCHED.value
    )
    client.force_login(stranger)
    assert client.post(enter_page(show), filled()).status_code == 302


def test_a_show_that_is_over_takes_no_entry(client: Client, stranger: Person):
    from datetime import date

    over = ShowFactory.create(starts_on=date(2020, 5, 1), ends_on=date(2020, 5, 3))
    client.force_login(stranger)
    assert client.post(enter_page(over), filled()).status_code == 410
    assert not Entry.objects.exists()


def test_what_is_typed_is_shown_as_text(client: Client, show: Show, stranger: Person):
    client.force_login(stranger)
    answer = client.post(enter_page(show), filled(wagon_name="<script>x</script>", classes=[]))
    assert b"<script>x" not in answer.content


# --- The office's list ------------------------------------------------------------------


def test_who_may_see_the_list(
    client: Client,
    show: Show,
    office: Person,
    steward: Person,
    judge: Judge,
    exhibitor: Person,
    stranger: Person,
):
    expected = {office: 200, steward: 200, judge.person: 403, exhibitor: 403, stranger: 404}
    for person, status in expected.items():
        client.force_login(person)
        assert client.get(list_page(show)).status_code == status, person
    client.logout()
    assert client.get(list_page(show)).status_code == 404


def test_an_office_of_another_show_is_a_stranger_here(client: Client, show: Show, office: Person):
    other = ShowFactory.create()
    client.force_login(office)
    assert client.get(list_page(other)).status_code == 404


def test_the_list_counts_places_and_those_waiting(client: Client, show: Show, office: Person):
    EntryFactory.create_batch(3, show=show)
    EntryFactory.create(show=show, status=Status.WAITING.value, wagon_name="Broken Teacup")
    EntryFactory.create(show=show, status=Status.SCRATCHED.value)
    client.force_login(office)
    text = client.get(list_page(show)).content.decode()
    assert "3 of 3 places, 1 waiting" in text
    assert "waiting, 1 in line" in text
    assert "drop tongue, team of two, leather tugs, civil pattern, pole straps" in text


def test_the_list_can_be_narrowed(
    client: Client, show: Show, office: Person, entry: Entry, other_entry: Entry
):
    client.force_login(office)
    everything = client.get(list_page(show)).content.decode()
    assert entry.wagon_name in everything
    assert other_entry.wagon_name in everything
    confirmed = client.get(list_page(show), {"status": "confirmed"}).content.decode()
    assert other_entry.wagon_name in confirmed
    assert entry.wagon_name not in confirmed
    unknown = client.get(list_page(show), {"status": "bogus"})
    assert len(unknown.context["lines"]) == 2


def test_the_list_asks_as_much_for_forty_wagons_as_for_two(
    client: Client, office: Person, trail: ShowClass, django_assert_num_queries: Any
):
    show = trail.show
    EntryFactory.create_batch(2, show=show, classes=[trail])
    client.force_login(office)

    def queries() -> int:
        from django.db import connection
        from django.test.utils import CaptureQueriesContext

        with CaptureQueriesContext(connection) as seen:
            assert client.get(list_page(show)).status_code == 200
        return len(seen)

    few = queries()
    EntryFactory.create_batch(38, show=show, classes=[trail], crew=4)
    assert queries() == few
    assert few <= 11  # of them one for the terms and one for animals: what is lacking


def decide(client: Client, entry: Entry, decision: str, **more: str) -> Any:
    address = reverse("entries:decide", args=[entry.pk])
    return client.post(address, {"decision": decision, **more})


def test_confirming_gives_number_and_spot(client: Client, office: Person, entry: Entry):
    client.force_login(office)
    answer = decide(client, entry, "confirm", status="entered")
    assert answer["Location"] == f"{list_page(entry.show)}?status=entered#entry-{entry.pk}"
    entry.refresh_from_db()
    assert (entry.status, entry.number) == (Status.CONFIRMED, 1)
    assert entry.spot is not None
    assert "number 1 and camp spot 1" in said(answer)
    assert AuditEntry.objects.filter(verb="confirmed", actor=office).count() == 1


def test_scratching_needs_a_reason(client: Client, office: Person, other_entry: Entry):
    client.force_login(office)
    refused = decide(client, other_entry, "scratch", reason="  ")
    assert "Say why" in said(refused)
    other_entry.refresh_from_db()
    assert other_entry.status == Status.CONFIRMED
    decide(client, other_entry, "scratch", reason="Broken axle")
    other_entry.refresh_from_db()
    assert (other_entry.status, other_entry.status_reason) == (Status.SCRATCHED, "Broken axle")
    assert other_entry.spot is None


def test_the_wait_list_keeps_its_order(client: Client, show: Show, office: Person):
    first = EntryFactory.create(show=show, status=Status.WAITING.value, wagon_name="First")
    second = EntryFactory.create(show=show, status=Status.WAITING.value, wagon_name="Second")
    client.force_login(office)
    answer = decide(client, second, "confirm")
    assert "the wait list keeps its order" in said(answer)
    second.refresh_from_db()
    assert second.status == Status.WAITING
    decide(client, first, "confirm")
    first.refresh_from_db()
    assert first.status == Status.CONFIRMED


def test_moving_to_the_wait_list(client: Client, office: Person, other_entry: Entry):
    client.force_login(office)
    decide(client, other_entry, "wait", reason="Papers are missing")
    other_entry.refresh_from_db()
    assert (other_entry.status, other_entry.spot) == (Status.WAITING, None)


@pytest.mark.parametrize("decision", ["", "delete"])
def test_an_unknown_decision_changes_nothing(
    client: Client, office: Person, entry: Entry, decision: str
):
    client.force_login(office)
    assert "choose one of them" in said(decide(client, entry, decision))
    entry.refresh_from_db()
    assert entry.status == Status.ENTERED


def test_a_reason_too_long_is_refused(client: Client, office: Person, entry: Entry):
    client.force_login(office)
    assert "200 letters" in said(decide(client, entry, "scratch", reason="x" * 201))
    entry.refresh_from_db()
    assert entry.status == Status.ENTERED


def test_only_the_office_decides(
    client: Client,
    steward: Person,
    judge: Judge,
    exhibitor: Person,
    other_exhibitor: Person,
    stranger: Person,
    entry: Entry,
):
    expected = {
        steward: 403,
        judge.person: 403,
        exhibitor: 403,
        other_exhibitor: 403,
        stranger: 404,
    }
    for person, status in expected.items():
        client.force_login(person)
        assert decide(client, entry, "confirm").status_code == status, person
    client.logout()
    assert decide(client, entry, "confirm").status_code == 404
    entry.refresh_from_db()
    assert entry.status == Status.ENTERED


def test_a_steward_sees_the_list_without_buttons(client: Client, steward: Person, entry: Entry):
    client.force_login(steward)
    text = client.get(list_page(entry.show)).content.decode()
    assert entry.wagon_name in text
    assert 'name="decision"' not in text


def test_deciding_is_never_a_link(client: Client, office: Person, entry: Entry):
    client.force_login(office)
    assert client.get(reverse("entries:decide", args=[entry.pk])).status_code == 405


def test_the_office_pages_lead_to_all_stages(client: Client, office: Person, entry: Entry):
    client.force_login(office)
    text = client.get(list_page(entry.show)).content.decode()
    nav = text.split('aria-label="Show office"')[1].split("</nav>")[0]
    stages = [
        "reports:office",
        "entries:office-entries",
        "judging:judges",
        "judging:scorecard",
        "judging:panel",
        "judging:window",
        "judging:progress",
        "judging:questions",
        "judging:office-results",
        "reports:papers",
        "judging:record",
    ]
    for name in stages:
        assert f'href="{reverse(name, args=[entry.show.slug])}"' in nav
    assert nav.count('aria-current="page"') == 1

"""Taking up, declining, withdrawing; the crew's page; offers on the office's list."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

import pytest
from django.contrib.messages import get_messages
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone

from entries.models import CrewChange, CrewMember, Entry, EntryTerms
from entries.rules.places import Status
from showrun.shows.models import Person, Show
from tests.people import EntryFactory

pytestmark = pytest.mark.django_db


def as_(person: Person) -> Client:
    client = Client()
    client.force_login(person)
    return client


def said(answer: Any) -> str:
    return " ".join(str(message) for message in get_messages(answer.wsgi_request))


def page(name: str, entry: Entry) -> str:
    return reverse(f"entries:{name}", args=[entry.pk])


@pytest.fixture
def offered(entry: Entry) -> Entry:
    entry.status = Status.OFFERED.value
    entry.offered_at = timezone.now()
    entry.take_up_by = timezone.now() + timedelta(hours=5)
    entry.save()
    return entry


# --- The place -----------------------------------------------------------------------------


def test_the_page_offers_the_place_and_says_until_when(offered: Entry, exhibitor: Person):
    answer = as_(exhibitor).get(reverse("reports:my-entry", args=[offered.pk]))
    assert answer.context["standing"].can_answer
    assert answer.context["standing"].can_withdraw
    assert "held for you until" in answer.context["standing"].next


def test_the_buttons_are_the_owners_and_only_while_they_do_something(
    offered: Entry, exhibitor: Person, office: Person
):
    from django.template.loader import render_to_string
    from django.test import RequestFactory

    from entries.queries.standing import standing_of

    def drawn(person: Person, entry: Entry, later: timedelta = timedelta(0)) -> str:
        request = RequestFactory().get("/")
        request.user = person
        standing = standing_of(entry, timezone.now() + later)
        context = {"entry": entry, "standing": standing}
        return render_to_string("entries/place_part.html", context, request=request)

    assert 'value="take_up"' in drawn(exhibitor, offered)
    assert 'value="withdraw"' in drawn(exhibitor, offered)
    assert "<button" not in drawn(office, offered)
    late = drawn(exhibitor, offered, timedelta(hours=6))
    assert 'value="take_up"' not in late and 'value="withdraw"' in late
    offered.status = Status.SCRATCHED.value
    assert "<button" not in drawn(exhibitor, offered)


@pytest.mark.parametrize(
    ("do", "status", "words"),
    [
        ("take_up", Status.ENTERED, "The place is yours"),
        ("decline", Status.SCRATCHED, "declined"),
        ("withdraw", Status.SCRATCHED, "withdrawn"),
        ("dance", Status.OFFERED, "choose one"),
    ],
)
def test_answering(offered: Entry, exhibitor: Person, do: str, status: Status, words: str):
    answer = as_(exhibitor).post(page("place", offered), {"do": do, "reason": "Lame mule"})
    assert answer["Location"] == reverse("reports:my-entry", args=[offered.pk])
    assert words in said(answer)
    offered.refresh_from_db()
    assert offered.status == status


def test_an_answer_too_late_says_so(offered: Entry, exhibitor: Person):
    Entry.objects.update(take_up_by=timezone.now() - timedelta(seconds=5))
    answer = as_(exhibitor).post(page("place", offered), {"do": "take_up"})
    assert "run out" in said(answer)
    offered.refresh_from_db()
    assert offered.status == Status.OFFERED


# --- The crew ------------------------------------------------------------------------------


def crew_form(**other: Any) -> dict[str, Any]:
    return {
        "crew_name_1": "Crew 0", "crew_role_1": "head_cook",
        "crew_name_2": "Ann Oak", "crew_role_2": "helper", "crew_under_age_2": "1",
        **other,
    }  # fmt: skip


def test_changing_the_crew_on_its_page(entry: Entry, exhibitor: Person):
    client = as_(exhibitor)
    text = client.get(page("crew", entry)).content.decode()
    assert 'value="Crew 1"' in text and "Nothing has changed" in text
    answer = client.post(page("crew", entry), crew_form(reason="<b>school</b>"))
    assert answer["Location"] == page("crew", entry)
    text = client.get(page("crew", entry)).content.decode()
    assert "Ann Oak, helper: added" in text
    assert "&lt;b&gt;school&lt;/b&gt;" in text
    assert CrewMember.objects.get(name="Ann Oak").under_age


def test_a_refused_crew_keeps_what_was_typed(entry: Entry, exhibitor: Person):
    wrong = crew_form(crew_role_2="head_cook", reason="ill")
    answer = as_(exhibitor).post(page("crew", entry), wrong)
    text = answer.content.decode()
    assert answer.status_code == 422
    assert "exactly one head cook" in text
    assert 'value="Ann Oak"' in text and 'value="ill"' in text
    assert 'name="crew_under_age_2" value="1" checked' in text
    assert not CrewChange.objects.exists()


def test_a_frozen_crew_is_read_only_for_its_owner_and_asks_the_office_why(
    entry: Entry, exhibitor: Person, office: Person
):
    EntryTerms.objects.create(show=entry.show, crew_frozen_at=timezone.now() - timedelta(hours=1))
    own = as_(exhibitor).get(page("crew", entry)).content.decode()
    assert "<form" not in own.split("<main")[1].split("</main>")[0]
    assert "Tell the show office" in own
    assert as_(exhibitor).post(page("crew", entry), crew_form()).status_code == 409
    refused = as_(office).post(page("crew", entry), crew_form())
    assert refused.status_code == 422 and "say why" in refused.content.decode()
    assert as_(office).post(page("crew", entry), crew_form(reason="ill")).status_code == 302
    assert "after the freeze" in as_(office).get(page("crew", entry)).content.decode()


def test_minors_are_initials_to_everybody_but_owner_and_office(
    entry: Entry, exhibitor: Person, office: Person, steward: Person
):
    as_(exhibitor).post(page("crew", entry), crew_form(reason="Ann has time"))
    api = f"/api/v1/entries/{entry.pk}"
    for person in (exhibitor, office):
        assert "Ann Oak" in as_(person).get(page("crew", entry)).content.decode()
        assert as_(person).get(api).json()["crew"][1]["name"] == "Ann Oak"
    text = as_(steward).get(page("crew", entry)).content.decode()
    assert "A. O." in text and "Crew 0" in text
    assert "Ann" not in text
    assert as_(steward).get(api).json()["crew"] == [
        {"name": "Crew 0", "role": "head_cook"},
        {"name": "A. O.", "role": "helper"},
    ]


# --- The office's list ---------------------------------------------------------------------


def list_page(show: Show) -> str:
    return reverse("entries:office-entries", args=[show.slug])


def test_the_list_shows_offers_what_is_lacking_and_ways_on(
    offered: Entry, other_entry: Entry, office: Person, show: Show
):
    EntryTerms.objects.create(show=show, emergency_asked=True)
    text = as_(office).get(list_page(show)).content.decode()
    assert "1 offered a place" in text
    assert text.count("Lacks 1") == 2
    gate = reverse("entries:check-in-wagon", args=[show.slug, other_entry.pk])
    assert text.count("Check-in</a></small>") == 1 and f'href="{gate}"' in text
    for name in ("crew", "details", "money-entry"):
        assert f'href="{page(name, offered)}"' in text
    assert as_(office).get(f"{list_page(show)}?status=offered").context["lines"]


def test_offering_by_hand_from_the_list(office: Person, show: Show, entry: Entry):
    client = as_(office)
    assert not client.get(list_page(show)).context["may_offer"]
    nobody = client.post(reverse("entries:offer-next", args=[show.slug]))
    assert "Nobody waits" in said(nobody)
    show.starts_on = timezone.localdate() + timedelta(days=30)
    show.save()
    first = EntryFactory.create(show=show, status=Status.WAITING.value, wagon_name="Green Kettle")
    assert client.get(list_page(show)).context["may_offer"]
    answer = client.post(reverse("entries:offer-next", args=[show.slug]))
    assert "A place is offered to Green Kettle until" in said(answer)
    first.refresh_from_db()
    assert first.status == Status.OFFERED


def test_the_list_asks_as_often_for_twenty_as_for_two(office: Person, show: Show, entry: Entry):
    from django.db import connection

    EntryTerms.objects.create(show=show, emergency_asked=True, animals_asked=True)
    client = as_(office)

    def asked() -> int:
        with CaptureQueriesContext(connection) as found:
            assert client.get(list_page(show)).status_code == 200
        return len(found)

    EntryFactory.create(show=show, status=Status.WAITING.value)
    few = asked()
    EntryFactory.create_batch(18, show=show, status=Status.WAITING.value)
    assert asked() == few


# --- The terms -----------------------------------------------------------------------------


def terms_page(show: Show) -> str:
    return reverse("entries:terms", args=[show.slug])


def typed(**other: str) -> dict[str, str]:
    return {
        "entry_cap": "3", "promotion_hours": "48", "entry_fee_cents": "$125.00",
        "deposit_cents": "0", "travel_cents": "", "closes_at": "2127-05-01T18:00",
        "waiver_text": "Own risk.", "animals_asked": "1", "eia_max_age_days": "365",
        "step_until_1": "2127-04-14", "step_share_1": "100",
        "step_until_3": "2127-04-30", "step_share_3": "50 %",
        **other,
    }  # fmt: skip


def test_the_terms_come_back_as_they_were_set(office: Person, show: Show, entry: Entry):
    client = as_(office)
    assert client.get(terms_page(show)).status_code == 200
    answer = client.post(terms_page(show), typed())
    assert answer["Location"] == terms_page(show)
    terms = EntryTerms.objects.get(show=show)
    assert terms.closes_at is not None
    assert terms.closes_at.isoformat() == "2127-05-02T00:00:00+00:00", "six in Denver"
    assert [step["share_percent"] for step in terms.refund_steps] == [100, 50]
    show.refresh_from_db()
    assert (show.entry_fee_cents, terms.deposit_cents) == (12_500, 0)
    Entry.objects.filter(pk=entry.pk).update(waiver_version=1)
    text = client.get(terms_page(show)).content.decode()
    for value in ("$125.00", "2127-05-01T18:00", "2127-04-30", "Own risk."):
        assert value in text
    assert "version 1; 1 entry has agreed" in text and "must agree anew" in text
    # what the form shows, sent back, changes nothing
    shown = client.get(terms_page(show)).context["form"].typed
    before = EntryTerms.objects.values().get()
    client.post(terms_page(show), shown)
    assert EntryTerms.objects.values().get() == before


@pytest.mark.parametrize(
    ("wrong", "field"),
    [
        ({"entry_cap": ""}, "entry_cap"),
        ({"entry_cap": "many"}, "entry_cap"),
        ({"entry_cap": "0"}, "entry_cap"),
        ({"entry_fee_cents": "12,5"}, "entry_fee_cents"),
        ({"closes_at": "tomorrow"}, "closes_at"),
        ({"closes_at": "2127-03-09T02:30"}, "closes_at"),  # the clocks jump over it
        ({"closes_at": "2127-06-01T09:00"}, "closes_at"),
        ({"promotion_hours": "-1"}, "promotion_hours"),
        ({"step_share_1": ""}, "refund_steps"),
        ({"step_until_1": ""}, "refund_steps"),
        ({"step_share_1": "101"}, "refund_steps"),
        ({"step_until_1": "2127-04-30"}, "refund_steps"),
        ({"eia_max_age_days": "9999"}, "eia_max_age_days"),
    ],
)
def test_a_fault_is_marked_and_what_was_typed_stays(
    office: Person, show: Show, wrong: dict[str, str], field: str
):
    sent = typed(**wrong)
    answer = as_(office).post(terms_page(show), sent)
    assert answer.status_code == 422
    assert list(answer.context["form"].faults) == [field]
    text = answer.content.decode()
    for target, _ in answer.context["form"].fault_list():
        assert f'id="{target}"' in text
    assert f'id="{field}-fault"' in text
    assert all(answer.context["form"].typed[name] == value for name, value in sent.items())
    assert not EntryTerms.objects.exists()

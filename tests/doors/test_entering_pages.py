"""The draft of an entry, and the page of an entry's details with its photo."""

from __future__ import annotations

from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest
from django.contrib.messages import get_messages
from django.contrib.staticfiles import finders
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from entries.actions.change_entry import change_entry
from entries.models import Animal, Entry, EntryDraft, EntryTerms, Outfit
from entries.rules.places import Status
from entries.rules.rig import FACTS
from entries.web.rig_choices import SEEN
from showrun.shows.models import Person, Show
from tests.people import NOW, RIG, EntryFactory
from tests.pictures import picture

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def files(settings: Any, tmp_path: Path) -> Path:
    settings.MEDIA_ROOT = tmp_path
    return tmp_path


@pytest.fixture
def terms(show: Show) -> EntryTerms:
    return EntryTerms.objects.create(
        show=show, waiver_text="At my own risk.", waiver_version=1, emergency_asked=True,
        camp_asked=True, animals_asked=True, eia_max_age_days=365,
    )  # fmt: skip


def whole(**other: Any) -> dict[str, Any]:
    return {
        "wagon_name": "Tin Sparrow",
        "classes": ["trail"],
        **RIG,
        "crew_name_1": "Obadiah Quillfeather",
        "crew_role_1": "head_cook",
        "crew_name_2": "M. S.",
        "crew_role_2": "helper",
        "crew_minor_2": "yes",
        **other,
    }


def enter_page(show: Show) -> str:
    return reverse("entries:enter", args=[show.slug])


def draft_page(show: Show) -> str:
    return reverse("entries:draft", args=[show.slug])


def details_page(entry: Entry) -> str:
    return reverse("entries:details", args=[entry.pk])


def said(answer: Any) -> str:
    return " ".join(str(message) for message in get_messages(answer.wsgi_request))


# --- The form ------------------------------------------------------------------------------


def test_every_answer_about_the_rig_has_a_drawing_with_words(
    client: Client, show: Show, stranger: Person
):
    client.force_login(stranger)
    text = client.get(enter_page(show)).content.decode()
    for fact, kind in FACTS.items():
        for member in kind:
            drawing = f"entries/rig/{fact}-{member.value}.svg"
            assert finders.find(drawing), drawing
            assert f'src="/static/{drawing}" alt="{SEEN[member.value]}"' in text


def test_only_what_the_show_asks_is_asked(
    client: Client, show: Show, stranger: Person, terms: EntryTerms
):
    client.force_login(stranger)
    text = client.get(enter_page(show)).content.decode()
    for name in ("frontage_ft", "dietary_notes", "emergency_phone", "waiver_agreed_by", "photo"):
        assert f'id="{name}"' in text
    assert "At my own risk." in text
    terms.delete()
    text = client.get(enter_page(show)).content.decode()
    assert 'id="emergency_phone"' not in text
    assert 'id="waiver_agreed_by"' not in text
    assert 'id="frontage_ft"' in text


def test_a_whole_form_keeps_everything_and_says_what_is_missing(
    client: Client, show: Show, stranger: Person, terms: EntryTerms
):
    client.force_login(stranger)
    photo = SimpleUploadedFile("wagon.jpg", picture(), "image/jpeg")
    sent = whole(
        frontage_ft="50 ft", depth_ft="40", dietary_notes="no nuts", emergency_name="Eve",
        emergency_phone="555 0100", waiver_version="1", waiver_agreed_by="Obadiah", photo=photo,
    )  # fmt: skip
    answer = client.post(enter_page(show), sent)
    assert answer.status_code == 302
    entry = Entry.objects.get()
    assert (entry.frontage_ft, entry.depth_ft, entry.waiver_version) == (50, 40, 1)
    assert entry.photo
    assert [member.under_age for member in entry.crew.all()] == [False, True]
    assert said(answer).endswith("1 thing is still missing.")


def test_a_refused_form_keeps_all_but_the_photo_and_says_so(
    client: Client, show: Show, stranger: Person, terms: EntryTerms
):
    client.force_login(stranger)
    photo = SimpleUploadedFile("wagon.jpg", picture(), "image/jpeg")
    sent = whole(
        frontage_ft="fifty", emergency_name="Eve", waiver_version="0", waiver_agreed_by="Obadiah",
        photo=photo,
    )  # fmt: skip
    answer = client.post(enter_page(show), sent)
    assert answer.status_code == 422
    assert set(answer.context["form"].faults) == {
        *("frontage_ft", "emergency_phone", "waiver_agreed_by"),
    }
    text = answer.content.decode()
    for value in ("fifty", "Eve", "Obadiah", "M. S."):
        assert f'value="{value}"' in text
    assert 'name="crew_minor_2" value="yes" checked' in text
    assert "the photo must be chosen again" in text
    for target, _ in answer.context["form"].fault_list():
        assert f'id="{target}"' in text


def test_what_is_no_photo_is_told_at_its_field(client: Client, show: Show, stranger: Person):
    client.force_login(stranger)
    answer = client.post(enter_page(show), whole(photo=SimpleUploadedFile("x.jpg", b"words")))
    assert list(answer.context["form"].faults) == ["photo"]
    assert "no picture that can be read" in answer.content.decode()
    assert not Entry.objects.exists()


def test_before_entries_open_and_after_they_closed(client: Client, show: Show, stranger: Person):
    client.force_login(stranger)
    terms = EntryTerms.objects.create(show=show, opens_at=timezone.now() + timedelta(days=1))
    early = client.get(enter_page(show))
    assert early.status_code == 409
    assert b"Entries for this show open" in early.content
    EntryTerms.objects.filter(pk=terms.pk).update(
        opens_at=None, closes_at=timezone.now() - timedelta(days=1)
    )
    late = client.post(enter_page(show), whole())
    assert late.status_code == 410
    assert b"Entries for this show closed" in late.content


# --- The draft -----------------------------------------------------------------------------


def test_a_draft_is_in_the_form_when_one_comes_back(client: Client, show: Show, stranger: Person):
    client.force_login(stranger)
    sent = whole(wagon_name="", history="Half a story", do="save", waiver_agreed_by="x")
    answer = client.post(draft_page(show), sent)
    assert answer["Location"] == enter_page(show)
    assert "Draft saved" in said(answer)
    back = client.get(enter_page(show))
    assert back.status_code == 200
    assert back.context["form"].faults == {}
    text = back.content.decode()
    assert "This is your draft, saved" in text
    assert "Half a story" in text
    assert 'value="trail" checked' in text
    assert 'name="crew_minor_2" value="yes" checked' in text
    for name, value in RIG.items():
        assert f'name="{name}" value="{value}" checked' in text
    assert not Entry.objects.exists()


def test_the_script_is_answered_in_json(client: Client, show: Show, stranger: Person):
    client.force_login(stranger)
    quiet = {"accept": "application/json"}
    answer = client.post(draft_page(show), whole(), headers=quiet)
    assert answer.status_code == 200
    assert answer.json()["words"].startswith("Draft saved ")
    EntryFactory.create(show=show, exhibitor=stranger, wagon_name="Tin Sparrow")
    refused = client.post(draft_page(show), whole(), headers=quiet)
    assert (refused.status_code, refused.json()) == (
        409,
        {"words": "You have entered this wagon already."},
    )


def test_a_button_refused_loses_nothing(client: Client, show: Show, stranger: Person):
    EntryFactory.create(show=show, exhibitor=stranger, wagon_name="Tin Sparrow")
    client.force_login(stranger)
    answer = client.post(draft_page(show), whole(history="A long story"))
    assert answer.status_code == 409
    assert answer.context["form"].faults == {"wagon_name": "You have entered this wagon already."}
    assert "A long story" in answer.content.decode()


def test_a_draft_can_be_thrown_away_and_is_ones_own(
    client: Client, show: Show, stranger: Person, exhibitor: Person
):
    client.force_login(stranger)
    client.post(draft_page(show), whole())
    client.force_login(exhibitor)
    assert "Tin Sparrow" not in client.get(enter_page(show)).content.decode()
    client.post(draft_page(show), {"do": "discard"})
    assert EntryDraft.objects.get().exhibitor == stranger
    client.force_login(stranger)
    answer = client.post(draft_page(show), {"do": "discard"})
    assert "thrown away" in said(answer)
    assert not EntryDraft.objects.exists()


def test_a_wagon_brought_before_comes_into_the_form(client: Client, show: Show, stranger: Person):
    rig = {**RIG, "hitch": "six_up"}
    kept = Outfit.objects.create(
        exhibitor=stranger, wagon_name="Old Ledger", depth_ft=45, kept_at=NOW, **rig
    )
    client.force_login(stranger)
    assert f'value="outfit:{kept.pk}"' in client.get(enter_page(show)).content.decode()
    typed = {"crew_name_1": "Ada Moor", "do": f"outfit:{kept.pk}"}
    text = client.post(draft_page(show), typed, follow=True).content.decode()
    assert 'value="Old Ledger"' in text
    assert 'value="six_up" checked' in text
    assert 'value="45"' in text
    assert 'value="Ada Moor"' in text, "what was typed stays"
    EntryFactory.create(show=show, exhibitor=stranger, wagon_name="Old Ledger")
    text = client.get(enter_page(show)).content.decode()
    assert f'value="outfit:{kept.pk}"' not in text, "entered already"


@pytest.mark.parametrize("do", ["outfit:999999", "outfit:x", "outfit:", "nonsense"])
def test_an_unknown_outfit_is_none(client: Client, show: Show, stranger: Person, do: str):
    client.force_login(stranger)
    status = client.post(draft_page(show), {"outfit": "Typed", "do": do}).status_code
    assert status == (404 if do == "outfit:999999" else 302)


# --- Details -------------------------------------------------------------------------------


def sent_details(**other: str) -> dict[str, str]:
    return {
        "frontage_ft": "50", "depth_ft": "40", "dietary_notes": "", "emergency_name": "Eve",
        "emergency_phone": "555 0100", "waiver_version": "1", "waiver_agreed_by": "Edna Cook",
        "animal_name_1": "Dolly", "animal_kind_1": "mule", "animal_eia_1": "2026-01-05",
        "animal_name_2": "", **other,
    }  # fmt: skip


def test_the_page_says_what_is_missing_and_each_line_leads_there(
    client: Client, exhibitor: Person, entry: Entry, terms: EntryTerms
):
    client.force_login(exhibitor)
    answer = client.get(details_page(entry))
    text = answer.content.decode()
    missing = [lack.where for lack in answer.context["lacking"]]
    assert missing == ["waiver_agreed_by", "frontage_ft", "emergency_name", "animal_name_1"]
    for where in missing:
        assert f'href="#{where}"' in text
        assert f'id="{where}"' in text
    assert "By May 14, 2127." in text


def test_the_exhibitor_gives_what_is_missing(
    client: Client, exhibitor: Person, entry: Entry, terms: EntryTerms
):
    client.force_login(exhibitor)
    assert client.post(details_page(entry), sent_details()).status_code == 302
    entry.refresh_from_db()
    assert (entry.frontage_ft, entry.emergency_phone, entry.waiver_agreed_by) == (
        *(50, "555 0100", "Edna Cook"),
    )
    answer = client.get(details_page(entry))
    (lack,) = answer.context["lacking"]
    assert lack.where == "animal_eia_1"
    assert "older than this show asks" in answer.content.decode()
    dolly = Animal.objects.get()
    mended = sent_details(animal_row_1=str(dolly.pk), animal_eia_1="", animal_kind_1="other")
    client.post(details_page(entry), mended)
    assert client.get(details_page(entry)).context["lacking"] == []
    client.post(details_page(entry), {"animal_name_1": ""})
    assert not Animal.objects.exists()
    entry.refresh_from_db()
    assert entry.frontage_ft == 50, "fields that were not sent stay"


def test_a_mistyped_name_is_put_right_by_the_exhibitor_and_by_the_office(
    client: Client, exhibitor: Person, office: Person, entry: Entry, terms: EntryTerms
):
    client.force_login(exhibitor)
    assert f'value="{entry.wagon_name}"' in client.get(details_page(entry)).content.decode()
    said = {"wagon_name": "Copper Kettle", "outfit": "Moor family", "history": "New bows."}
    client.post(details_page(entry), sent_details(**said))
    client.force_login(office)
    refused = client.post(details_page(entry), {"wagon_name": " ", "history": "Old axle."})
    text = refused.content.decode()
    assert refused.status_code == 422
    assert 'href="#wagon_name"' in text
    assert "Old axle.</textarea>" in text, "what was typed stays"
    client.post(details_page(entry), {"wagon_name": "Copper Kettle II"})
    entry.refresh_from_db()
    assert (entry.wagon_name, entry.outfit) == ("Copper Kettle II", "Moor family")


def test_wrong_details_keep_what_was_typed_at_their_lines(
    client: Client, exhibitor: Person, entry: Entry, terms: EntryTerms
):
    client.force_login(exhibitor)
    wrong = sent_details(
        frontage_ft="wide", animal_name_2="", animal_name_3="Molly", animal_eia_3="2999-01-01",
        animal_name_4="Polly", animal_eia_4="soon",
    )  # fmt: skip
    answer = client.post(details_page(entry), wrong)
    assert answer.status_code == 422
    form = answer.context["form"]
    assert set(form.faults) == {"frontage_ft", "animal_eia_4"}
    wrong["frontage_ft"], wrong["animal_eia_4"] = "50", ""
    answer = client.post(details_page(entry), wrong)
    assert list(answer.context["form"].faults) == ["animal_eia_3"]
    text = answer.content.decode()
    for value in ("Dolly", "Molly", "Polly", "2999-01-01", "Edna Cook", "Eve"):
        assert f'value="{value}"' in text
    assert 'id="animal_eia_3-fault"' in text
    assert not Animal.objects.exists()


def test_a_new_waiver_is_shown_again(
    client: Client, exhibitor: Person, entry: Entry, terms: EntryTerms
):
    client.force_login(exhibitor)
    client.post(details_page(entry), sent_details())
    text = client.get(details_page(entry)).content.decode()
    assert 'id="waiver_agreed_by"' not in text
    assert "version 1" in text
    EntryTerms.objects.update(waiver_version=2, waiver_text="Entirely at my own risk.")
    text = client.get(details_page(entry)).content.decode()
    assert "Edna Cook agreed to version 1" in text
    assert "Entirely at my own risk." in text
    refused = client.post(details_page(entry), {"waiver_version": "1", "waiver_agreed_by": "Edna"})
    assert list(refused.context["form"].faults) == ["waiver_agreed_by"]
    client.post(details_page(entry), {"waiver_version": "2", "waiver_agreed_by": "Edna"})
    entry.refresh_from_db()
    assert (entry.waiver_version, entry.waiver_agreed_by) == (2, "Edna")


def test_a_scratched_entry_has_no_form(client: Client, exhibitor: Person, entry: Entry):
    Entry.objects.filter(pk=entry.pk).update(status=Status.SCRATCHED.value)
    client.force_login(exhibitor)
    text = client.get(details_page(entry)).content.decode()
    assert "This entry was scratched" in text
    assert 'id="frontage_ft"' not in text
    assert client.post(details_page(entry), sent_details()).status_code == 409


# --- The photo -----------------------------------------------------------------------------


def test_the_photo_is_for_the_owner_and_the_office(
    client: Client, exhibitor: Person, other_exhibitor: Person, office: Person, stranger: Person,
    entry: Entry,
):  # fmt: skip
    address = reverse("entries:photo", args=[entry.pk])
    client.force_login(exhibitor)
    assert client.get(address).status_code == 404, "none yet"
    change_entry(entry=entry, by=exhibitor, at=NOW, photo=picture())
    for person in (exhibitor, office):
        client.force_login(person)
        answer: Any = client.get(address)
        assert (answer.status_code, answer["Content-Type"]) == (200, "image/jpeg")
        assert answer["Cache-Control"] == "private, no-store"
        assert b"".join(answer.streaming_content)[:2] == b"\xff\xd8"
    for other in (other_exhibitor, stranger):
        client.force_login(other)
        assert client.get(address).status_code == 404
    client.force_login(exhibitor)
    assert f'src="{address}"' in client.get(details_page(entry)).content.decode()
    assert client.post(details_page(entry), {"remove_photo": "yes"}).status_code == 302
    assert client.get(address).status_code == 404


def test_a_lost_file_is_said(client: Client, exhibitor: Person, entry: Entry, files: Path):
    changed = change_entry(entry=entry, by=exhibitor, at=NOW, photo=picture())
    (files / str(changed.photo)).unlink()
    client.force_login(exhibitor)
    answer = client.get(reverse("entries:photo", args=[entry.pk]))
    assert answer.status_code == 404
    assert b"lost" in answer.content

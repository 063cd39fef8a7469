"""The pages on which paper is keyed: who may, what the second person sees, and what is not lost."""

from __future__ import annotations

import re

import pytest
from django.test import Client

from judging.actions.key_card import issue_cards
from judging.models import CardMark, Keying, PaperCard, RoundEvent
from showrun.shows.models import Person, Show
from tests.judged_show import AT, build_show, draw_panel, judge_of, office_of, rows_of, steward_of

pytestmark = pytest.mark.django_db


def signed_in(person: Person) -> Client:
    client = Client()
    client.force_login(person)
    return client


class Desk:
    def __init__(self) -> None:
        self.show: Show = build_show()
        draw_panel(self.show)
        self.judge = judge_of(self.show)
        self.entry = self.judge.seats.latest("entry__number").entry
        (self.card,) = issue_cards(judge=self.judge, entries=[self.entry], at=AT)
        self.rows = rows_of(self.judge, self.entry)
        self.office, self.steward = (
            signed_in(office_of(self.show)),
            signed_in(steward_of(self.show)),
        )
        self.list = f"/shows/{self.show.slug}/office/paper-cards/"
        self.here = f"/paper-cards/{self.card.number}/"

    def form(self, value: str = "7", **other: str) -> dict[str, str]:
        rows = {f"row:{row.code}": value for row in self.rows}
        return {"do": "key", **rows, "signed": "yes", **other}

    def read(self, client: Client) -> str:
        answer = client.get(self.here)
        assert answer.status_code == 200
        return answer.content.decode()


@pytest.fixture
def desk() -> Desk:
    return Desk()


def inputs(page: str) -> dict[str, str]:
    """Return the boxes of the rows with what stands in them."""
    return dict(re.findall(r'<input type="text" id="(row:[^"]+)"[^>]*? value="([^"]*)"', page))


def test_whoever_is_not_of_the_office_learns_nothing(desk: Desk) -> None:
    wrong = f"/paper-cards/{int(desk.card.number) + 1}/"
    stranger = signed_in(office_of(build_show(slug="elsewhere")))
    for where in (desk.here, wrong):
        answer = stranger.get(where)
        assert answer.status_code == 404
        assert desk.entry.wagon_name not in answer.content.decode()
        nobody = Client().get(where)
        assert nobody.status_code == 302
        assert nobody["Location"].startswith("/sign-in/?next=")
    assert signed_in(desk.judge.person).get(desk.here).status_code == 403
    assert desk.office.get(wrong).status_code == 404


def test_the_number_leads_to_the_card_and_a_slip_is_told(desk: Desk) -> None:
    typed = f"{desk.card.number[:-2]} {desk.card.number[-2:]}"
    answer = desk.office.get(desk.list, {"number": typed})
    assert answer.status_code == 302
    assert answer["Location"] == desk.here
    slip = desk.office.get(desk.list, {"number": str(int(desk.card.number) + 1)})
    assert slip.status_code == 404
    assert "One of the digits is not as printed" in slip.content.decode()
    other = build_show(slug="other-ground")
    draw_panel(other)
    judge = judge_of(other)
    (theirs,) = issue_cards(judge=judge, entries=[judge.seats.all()[0].entry], at=AT)
    foreign = desk.office.get(desk.list, {"number": theirs.number})
    assert foreign.status_code == 404
    assert "This show has no card with this number" in foreign.content.decode()


def test_each_row_has_one_box_and_the_first_of_them_the_cursor(desk: Desk) -> None:
    page = desk.read(desk.office)
    assert list(inputs(page)) == [f"row:{row.code}" for row in desk.rows]
    assert set(inputs(page).values()) == {""}
    focused = re.findall(r'id="([^"]+)"[^>]* autofocus', page)
    assert focused == [f"row:{desk.rows[0].code}"]


def test_a_refused_keying_loses_nothing_and_points_at_the_row(desk: Desk) -> None:
    bad = f"row:{desk.rows[1].code}"
    form = desk.form(**{bad: "99", f"remark:{desk.rows[0].section.code}": "Dry & cracked"})
    answer = desk.office.post(desk.here, form)
    page = answer.content.decode()
    assert answer.status_code == 422
    assert "takes at most 10; 99 was typed" in page
    assert inputs(page) == {k: v for k, v in form.items() if k.startswith("row:")}
    assert "Dry &amp; cracked</textarea>" in page
    assert re.search(r'id="signed"[^>]* checked', page)
    assert re.findall(r'id="([^"]+)"[^>]* autofocus', page) == [bad]
    assert f'href="#{bad}"' in page
    assert not Keying.objects.exists()


def test_the_second_person_sees_nothing_of_the_first(desk: Desk) -> None:
    code = desk.rows[0].section.code
    form = desk.form("8", **{f"remark:{code}": "Wormwood everywhere"})
    assert desk.office.post(desk.here, form).status_code == 302
    own = desk.read(desk.office)
    assert "Another person keys it a second time" in own
    assert not inputs(own)
    page = desk.read(desk.steward)
    assert "This is the second keying" in page
    assert set(inputs(page).values()) == {""}
    for where in (desk.here, desk.list, f"/shows/{desk.show.slug}/office/record/"):
        assert "Wormwood" not in desk.steward.get(where).content.decode()
    # A slip of the second's brings back the second's own values alone.
    slip = desk.steward.post(desk.here, {**desk.form("3"), f"row:{desk.rows[0].code}": ""})
    assert set(inputs(slip.content.decode()).values()) == {"3", ""}
    assert "Wormwood" not in slip.content.decode()


def test_the_same_person_cannot_key_twice_and_keeps_what_was_typed(desk: Desk) -> None:
    desk.office.post(desk.here, desk.form("8"))
    answer = desk.office.post(desk.here, desk.form("5"))
    page = answer.content.decode()
    assert answer.status_code == 409
    assert "the second keying is another person" in page
    assert set(inputs(page).values()) == {"5"}
    assert Keying.objects.count() == 1


def test_a_difference_is_looked_at_and_then_taken(desk: Desk) -> None:
    first, second = desk.form("8"), desk.form("8")
    place = f"row:{desk.rows[0].code}"
    second[place] = "x"
    desk.office.post(desk.here, first)
    desk.steward.post(desk.here, second)
    page = desk.read(desk.office)
    assert page.count('<fieldset class="block" id="row:') == 1
    assert "could not be inspected" in page
    assert 'name="do" value="take"' not in page
    refused = desk.office.post(
        desk.here, {"do": "look", f"chosen {place}": "typed", f"typed {place}": "70"}
    )
    assert refused.status_code == 422
    assert 'value="70"' in refused.content.decode()
    assert "takes at most 10; 70 was typed" in refused.content.decode()
    desk.office.post(desk.here, {"do": "look", f"chosen {place}": "second"})
    page = desk.read(desk.steward)
    assert "looked at a third time by" in page
    assert 'name="do" value="take"' in page
    assert not RoundEvent.objects.exists()
    answer = desk.steward.post(desk.here, {"do": "take"}, follow=True)
    assert "taken. The card is handed in." in answer.content.decode()
    assert CardMark.objects.filter(state="not_inspected").count() == 1
    page = desk.read(desk.office)
    assert "From paper, keyed by Marguerite Oyelaran and Tobias Windfeather" in page
    progress = desk.office.get(f"/shows/{desk.show.slug}/office/progress/").content.decode()
    assert "From paper, keyed by Marguerite Oyelaran and Tobias Windfeather" in progress
    record = desk.office.get(f"/shows/{desk.show.slug}/office/record/").content.decode()
    assert "From paper, keyed by Marguerite Oyelaran and Tobias Windfeather." in record


def test_the_list_sorts_by_state_opens_cards_and_takes_all_that_agree(desk: Desk) -> None:
    seat = desk.judge.seats.exclude(entry=desk.entry).earliest("entry__number")
    form = {"do": "open", "judge": str(desk.judge.pk), "entry": str(seat.entry_id)}
    answer = desk.office.post(desk.list, form)
    other = PaperCard.objects.get(entry=seat.entry)
    assert answer["Location"] == f"/paper-cards/{other.number}/"
    assert desk.office.post(desk.list, form)["Location"] == answer["Location"]
    rows = {f"row:{row.code}": "6" for row in rows_of(desk.judge, seat.entry)}
    for client in (desk.office, desk.steward):
        client.post(desk.here, desk.form())
        client.post(answer["Location"], {"do": "key", **rows})
    page = desk.office.get(desk.list).content.decode()
    assert "Take all 2 agreed cards" in page
    heads = [page.index(word) for word in (">Agreed<", ">Not keyed: ")]
    assert heads == sorted(heads)
    told = desk.steward.post(desk.list, {"do": "take-all"}, follow=True).content.decode()
    assert "taken. The card is handed in." in told
    assert "It is not handed in: the judge did not sign it." in told
    assert PaperCard.objects.filter(taken_at__isnull=False).count() == 2
    again = desk.office.post(desk.list, {"do": "take-all"}, follow=True).content.decode()
    assert "No card waits to be taken" in again


def test_starting_over_needs_a_reason(desk: Desk) -> None:
    desk.office.post(desk.here, desk.form())
    refused = desk.office.post(desk.here, {"do": "over", "reason": " "})
    assert refused.status_code == 422
    assert 'aria-describedby="reason-fault"' in refused.content.decode()
    desk.office.post(desk.here, {"do": "over", "reason": "Wrong card."})
    assert "This is the first keying" in desk.read(desk.office)


def test_a_judge_or_wagon_of_another_show_opens_nothing(desk: Desk) -> None:
    other = build_show(slug="other-ground")
    draw_panel(other)
    theirs = judge_of(other)
    entry = theirs.seats.all()[0].entry_id
    for judge_id, entry_id in ((theirs.pk, entry), (desk.judge.pk, entry), ("x", "y")):
        form = {"do": "open", "judge": judge_id, "entry": entry_id}
        assert desk.office.post(desk.list, form).status_code == 404
    assert PaperCard.objects.count() == 1

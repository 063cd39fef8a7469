"""The parts of a result: missing cards, how sure the places are, purse, fingerprint, pictures."""

from __future__ import annotations

import json
from decimal import Decimal

import pytest
from django.test import Client
from django.urls import reverse
from django.utils.html import escape

from judging.actions.accept_gaps import accept_gaps
from judging.actions.compute_result import compute_result
from judging.models import ClassCard, Placing, Result
from judging.web.result_words import chance_words, differs_words, fingerprint, purse_words
from showrun.shows.models import AuditEntry, Show
from tests.http_api import get, post, took
from tests.judged_show import (
    AT,
    build_show,
    class_of,
    entry_of,
    judge_of,
    mark_everything,
    office_of,
    release_results,
    steward_of,
)
from tests.problems import problem
from tests.remembered import remembered
from tests.result_page import block, computed, judged_by_three, page, press, results, said

pytestmark = pytest.mark.django_db
WHY = "J3 lost the sheet in the creek."


@pytest.fixture
def show() -> Show:
    return judged_by_three()


@pytest.fixture
@remembered
def gappy() -> Show:
    """Three judges of every wagon; J3's card of wagon 4 never came in."""
    show = build_show(n_judges=3, judges_per_section=3, kin=False)
    mark_everything(show, leave_out=[("J3", 4)])
    return show


def with_gaps(show: Show) -> Result:
    return compute_result(show_class=class_of(show), by=office_of(show), at=AT, with_gaps=True)


# --- Missing cards --------------------------------------------------------------------------


def test_a_class_is_computed_without_its_missing_cards_only_when_that_is_wanted(
    client: Client, gappy: Show
):
    assert "is incomplete" in said(press(client, "compute", class_of(gappy).pk, office_of(gappy)))
    assert not Result.objects.exists()
    answer = press(client, "compute", class_of(gappy).pk, office_of(gappy), with_gaps="yes")
    assert "version 1 computed" in said(answer)
    text = block(page(client, gappy), gappy)
    assert "version 1 computed, cards missing" in text
    assert "1 card missing in version 1" in text
    assert text.count(f"J3 Haruko Penhallow, wagon {entry_of(gappy, 4).called}: not handed in") == 1
    assert "Running gear (2 rows without a mark), " in text
    assert "A missing card never counts as zero." in text


def test_best_and_worst_places_are_those_of_the_result(client: Client, gappy: Show):
    result = with_gaps(gappy)
    placing = result.placings.get(entry=entry_of(gappy, 4))
    assert placing.best_place is not None
    assert placing.worst_place is not None
    assert placing.best_place < placing.worst_place
    text = block(page(client, gappy), gappy)
    rows = text[text.index("Best place") : text.index("Why the cards stay missing")]
    (line,) = [row for row in rows.split("<tr>") if str(placing.entry) in row]
    assert f'data-label="Best">{placing.best_place}<' in line
    assert f'data-label="Worst">{placing.worst_place}<' in line
    Placing.objects.update(best_place=2, worst_place=2)
    text = block(page(client, gappy), gappy)
    assert "Whatever the missing cards say, every wagon keeps its place." in text


def test_nobody_signs_before_somebody_who_may_release_accepts_in_writing(
    client: Client, gappy: Show
):
    result = with_gaps(gappy)
    text = block(page(client, gappy), gappy)
    assert "Cards are missing; somebody who may release results accepts that first." in text
    steward_text = block(page(client, gappy, steward_of(gappy)), gappy)
    assert "Why the cards stay missing" not in steward_text
    assert "Somebody who may release results accepts this in writing" in steward_text
    refused = press(client, "accept-gaps", result.pk, steward_of(gappy), reason=WHY)
    assert refused.status_code == 403
    assert "must accept that in writing first" in said(
        press(client, "sign", result.pk, office_of(gappy))
    )
    empty = press(client, "accept-gaps", result.pk, office_of(gappy), reason=" ")
    assert empty.status_code == 422
    text = block(empty.content.decode(), gappy)
    assert "Why do the cards stay missing?" in text
    assert 'aria-invalid="true"' in text
    result.refresh_from_db()
    assert result.gaps_accepted_at is None

    done = press(client, "accept-gaps", result.pk, office_of(gappy), reason=WHY)
    assert "accepted without the missing cards" in said(done)
    assert AuditEntry.objects.get(verb="accepted gaps").reason == WHY
    text = block(page(client, gappy), gappy)
    assert "Marguerite Oyelaran accepted this" in text
    assert f"<bdi>{WHY}</bdi>" in text
    assert "Why the cards stay missing" not in text
    assert "signed" in said(press(client, "sign", result.pk, office_of(gappy)))


def test_a_result_that_lacks_nothing_has_nothing_to_accept(client: Client, show: Show):
    result = computed(show)
    assert "missing in version" not in block(page(client, show), show)
    answer = press(client, "accept-gaps", result.pk, office_of(show), reason=WHY)
    assert "there is nothing to accept" in said(answer)


def test_everybody_reads_which_cards_are_missing_but_not_whose(client: Client, gappy: Show):
    result = with_gaps(gappy)
    accept_gaps(result=result, by=office_of(gappy), reason=WHY, at=AT)
    public = reverse("judging:results", args=[gappy.slug])
    assert WHY not in client.get(public).content.decode()
    assert took(get(None, f"shows/{gappy.slug}/results")) == []
    for hand in (office_of(gappy), steward_of(gappy)):
        press(client, "sign", result.pk, hand)
    assert "released" in said(press(client, "release", result.pk, office_of(gappy)))
    client.logout()
    text = client.get(public).content.decode()
    assert f"<bdi>{WHY}</bdi>" in text
    lacks = "Running gear 1 card, Camp kit 1 card, Harness 1 card"
    assert f"<li>Wagon {entry_of(gappy, 4).called}: {lacks}</li>" in text
    assert "Haruko Penhallow" not in text
    assert "Marguerite Oyelaran" not in text
    (told,) = took(get(None, f"shows/{gappy.slug}/results"))
    assert {(gap["entry"], gap["cards"]) for gap in told["missing_cards"]} == {(4, 1)}
    assert told["missing_cards_reason"] == WHY
    assert "J3" not in json.dumps(told["missing_cards"])


def test_gaps_over_the_api(gappy: Show):
    office, steward, trail = office_of(gappy), steward_of(gappy), class_of(gappy)
    problem(post(office, f"classes/{trail.pk}/result"), 409, "incomplete")
    result = took(post(office, f"classes/{trail.pk}/result", {"with_gaps": True}))
    assert {gap["judge"] for gap in result["gaps"]} == {"J3"}
    assert result["gaps_accepted_by"] is None
    accept = f"results/{result['id']}/accept-gaps"
    problem(post(office, f"results/{result['id']}/sign"), 409, "gaps-not-accepted")
    problem(post(steward, accept, {"reason": WHY}), 403, "not-allowed")
    assert set(problem(post(office, accept, {}), 422, "invalid-input")["errors"]) == {"reason"}
    assert took(post(office, accept, {"reason": WHY}))["gaps_accepted_by"] == office.name
    assert took(post(office, f"results/{result['id']}/sign"))["signatures"] == [office.name]


# --- How sure ------------------------------------------------------------------------------


def test_what_cannot_be_told_apart_is_a_plain_warning(client: Client, show: Show):
    result = computed(show)
    first, second = result.placings.all()[:2]
    sentence = "First and second cannot be told apart by these marks; the rules decide."
    told = dict(result.uncertainty)
    told["neighbours"] = [
        {**pair, "chance": 0.99, "told_apart": True, "sentence": ""} for pair in told["neighbours"]
    ]
    Result.objects.filter(pk=result.pk).update(uncertainty=told)
    text = block(page(client, show), show)
    assert "These marks tell the awarded places apart." in text
    assert "Below the awarded places, all neighbors can be told apart." in text
    told["neighbours"][0] |= {"chance": 0.837, "told_apart": False, "sentence": sentence}
    told["neighbours"][3] |= {"chance": 0.5, "told_apart": False, "sentence": "no."}
    Result.objects.filter(pk=result.pk).update(uncertainty=told)
    text = block(page(client, show), show)
    assert sentence in text
    names = [f"{p.entry.number} {p.entry.wagon_name}" for p in (first, second)]
    assert f"{names[0]} is ahead of {names[1]} with a chance of 83 in 100." in text
    assert "Below the awarded places, no wagon can be told from the next." in text
    assert escape("how far these judges' marks disagreed, and nothing else") in text


def test_the_interval_of_each_place_is_in_the_picture_and_in_figures(client: Client, show: Show):
    result = computed(show)
    for placing in result.placings.all():
        Placing.objects.filter(pk=placing.pk).update(
            rank_low=max(1, placing.place - 1), rank_high=placing.place + 1
        )
    text = block(page(client, show), show)
    assert '<svg class="places"' in text
    assert "The thick line spans the places these marks allow." in text
    for placing in result.placings.all():
        span = f"{max(1, placing.place - 1)} to {placing.place + 1}"
        assert f"place {placing.place}, by these marks {span}" in text
        assert f'data-label="These marks allow places">{span}</td>' in text


def test_what_cannot_be_told_says_why(client: Client, show: Show):
    result = computed(show)
    result.placings.update(rank_low=None, rank_high=None)
    words = "How sure the places are cannot be told from so few marks."
    Result.objects.filter(pk=result.pk).update(
        uncertainty={"basis": "", "refused": words, "neighbours": [], "df": None}
    )
    text = block(page(client, show), show)
    assert words in text
    assert '<svg class="places"' not in text
    assert "tell the awarded places apart" not in text


# --- Purse, fingerprint, pictures ------------------------------------------------------------


def test_the_purse_is_listed_to_the_cent_with_shared_places_named(client: Client, show: Show):
    ClassCard.objects.filter(show_class=class_of(show)).update(
        purse_cents=100_001, purse_weights=["50", "30", "20"]
    )
    result = computed(show)
    text = block(page(client, show), show)
    for placing in result.placings.filter(purse_cents__gt=0):
        whole, rest = divmod(placing.purse_cents, 100)
        assert f"<strong>${whole}.{rest:02}</strong>" in text
    assert "$1,000.01 in all, the whole purse." in text
    assert "A cent that does not divide" in text
    assert "Shared by" not in text
    first, second = result.placings.all()[:2]
    Placing.objects.filter(pk__in=[first.pk, second.pk]).update(place=1, purse_cents=40_000)
    text = block(page(client, show), show)
    assert text.count("Shared by 2 wagons.") == 2
    assert "$1,000.00 in all; $0.01 of the purse is for places nobody fills." in text
    assert "Purse" not in block(page(client, show), show, "working_harness")


def test_the_purse_is_public_with_the_release_and_not_before(client: Client, show: Show):
    ClassCard.objects.filter(show_class=class_of(show)).update(
        purse_cents=77_700, purse_weights=["1"]
    )
    computed(show)
    public = reverse("judging:results", args=[show.slug])
    assert "$777.00" not in client.get(public).content.decode()
    assert took(get(None, f"shows/{show.slug}/results")) == []
    release_results(show)
    assert "$777.00 in all." in client.get(public).content.decode()
    trail, harness = took(get(None, f"shows/{show.slug}/results"))
    assert [line["purse_cents"] for line in trail["placings"]] == [77_700, 0, 0, 0, 0]
    assert {line["purse_cents"] for line in harness["placings"]} == {0}


def test_the_fingerprint_is_short_on_the_page_and_whole_beside_its_meaning(
    client: Client, show: Show
):
    result = computed(show)
    text = block(page(client, show), show)
    assert f"<code>{fingerprint(result.result_hash, 4)}</code>" in text
    assert f"<code>{fingerprint(result.result_hash)}</code>" in text
    assert f"manage.py verify_results {show.slug}" in text


def test_what_the_office_compares_is_never_public(client: Client, show: Show):
    computed(show)
    mine = took(get(office_of(show), f"classes/{class_of(show).pk}/result"))
    assert set(mine["placings"][0]["by_method"]) >= {"plain", "mean", "judge_adjusted"}
    assert set(mine["uncertainty"]) == {"basis", "refused", "df", "neighbours"}
    release_results(show)
    public = client.get(reverse("judging:results", args=[show.slug])).content.decode()
    for words in ("Place by", "by every method", "How sure", "told apart", "<svg"):
        assert words not in public, words
    told = json.dumps(took(get(None, f"shows/{show.slug}/results")))
    for key in ("by_method", "rank_low", "best_place", "uncertainty", "gaps", "judge_effects"):
        assert f'"{key}' not in told, key
    for person in (entry_of(show).exhibitor, judge_of(show).person):
        client.force_login(person)
        assert client.get(results(show)).status_code == 403


def test_each_judges_points_are_drawn_section_by_section_and_given_in_figures(
    client: Client, show: Show
):
    computed(show)
    text = block(page(client, show), show)
    assert text.count('<svg class="points"') == 3
    assert text.count('id="points-svg-') == 6  # title and description of each
    assert len({part[:30] for part in text.split('id="points-svg-')[1:]}) == 6
    assert "1 Patient Mule, J1 Chidi Abara:" in text
    assert "Running gear in figures" in text
    assert f"{reverse('judging:checks', args=[show.slug])}#severity-h" in text


# --- Words --------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("places", "words"),
    [
        ({"plain": 2, "mean": 2}, ""),
        ({"plain": 2, "judge_adjusted": 3},
         "Plain total gives place 2, judge-adjusted total place 3."),
        ({"plain": 2, "mean": 2, "trimmed": 2, "judge_adjusted": 3, "crossed": 3, "placings": 4},
         "Plain total, mean of the judges and trimmed mean give place 2, judge-adjusted total and "
         "crossed effects place 3, places of the judges place 4."),
        ({"crossed": 1, "plain": 2}, "Crossed effects give place 1, plain total place 2."),
    ],
)  # fmt: skip
def test_methods_that_differ_are_one_sentence(places: dict[str, int], words: str):
    assert differs_words(places) == words


@pytest.mark.parametrize(
    ("chance", "words"),
    [(0.5, "50 in 100"), (0.83, "83 in 100"), (0.29, "29 in 100"), (0.9899, "98 in 100"),
     (0.99, "99 in 100 or more"), (1.0, "99 in 100 or more"), (0.0, "1 in 100")],
)  # fmt: skip
def test_a_chance_is_never_a_certainty(chance: float, words: str):
    assert chance_words(chance) == words


def test_what_is_left_of_a_purse_is_said():
    assert purse_words(100_001, 100_001) == "$1,000.01 in all, the whole purse."
    assert "$0.05 of the purse is for places nobody fills" in purse_words(95, 100)
    assert purse_words(100, 0) == "$1.00 in all."
    assert Decimal(purse_words(123_456_78, 0)[1:-8].replace(",", "")) == Decimal("123456.78")

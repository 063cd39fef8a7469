"""The office's results: incomplete, computed, signed by two hands, released, corrected."""

from __future__ import annotations

import re

import pytest
from django.test import Client
from django.utils.html import escape

from entries.models import Entry
from judging.models import (
    CardMark,
    ClassCard,
    Criterion,
    Judge,
    Placing,
    Question,
    Result,
    Signature,
)
from judging.queries.results import class_inputs, latest_result, result_for
from judging.web.result_words import SHORT_NAMES, habit_words, method_in_sentence
from showrun.errors import NotAllowed, NotFound
from showrun.shows.models import Show
from showrun.shows.rules.access import Deed
from tests.judged_show import (
    SECTIONS,
    build_show,
    card_events,
    class_of,
    draw_panel,
    entry_of,
    fair,
    hand_in,
    judge_of,
    mark,
    mark_everything,
    not_inspected,
    office_of,
    pair,
    release_results,
    rows_of,
    send,
    steward_of,
)
from tests.result_page import block, computed, judged_by_three, page, press, results, said

pytestmark = pytest.mark.django_db


@pytest.fixture
def show() -> Show:
    return judged_by_three()


def change_a_mark(show: Show) -> CardMark:
    """Let the office's correction of one mark stand in for any change after computing."""
    changed = CardMark.objects.filter(criterion__code="hn_lines", card__entry__number=2).first()
    assert changed
    changed.value = (changed.value or 0) + 1
    changed.save()
    return changed


def test_a_result_is_found_for_whoever_may_do_this_with_it(show: Show):
    result = computed(show)
    assert result_for(office_of(show), result.pk, Deed.RELEASE_RESULT) == result
    with pytest.raises(NotFound, match="There is nothing at this address for you"):
        result_for(office_of(show), 0, Deed.RELEASE_RESULT)
    with pytest.raises((NotAllowed, NotFound)):
        result_for(judge_of(show, "J1").person, result.pk, Deed.RELEASE_RESULT)


# --- Before there is a result ---------------------------------------------------------


def test_missing_cards_are_listed_in_words(client: Client):
    show = build_show(n_judges=3, judges_per_section=3, kin=False)
    mark_everything(show, leave_out=[("J2", 4), ("J3", 4)])
    judge, entry = judge_of(show, "J3"), entry_of(show, 4)
    send(judge.devices.first() or pair(judge)[0], card_events(judge, entry)[:-2])
    text = block(page(client, show), show)
    assert ">incomplete<" in text
    assert "2 cards missing" in text
    assert (
        f"J2 Ingrid Lindqvist, wagon {entry.called}: not handed in, 6 rows without a mark" in text
    )
    assert f"J3 Haruko Penhallow, wagon {entry.called}: not handed in, 1 row without a mark" in text
    assert "(Harness 1)" in text
    assert "Go on without the missing cards" in text
    assert ">Compute<" not in text
    answer = press(client, "compute", class_of(show).pk, office_of(show))
    assert "is incomplete" in said(answer)
    assert not Result.objects.exists()


def nothing_seen(show: Show, section: str) -> None:
    """Let J1 hand in entry 2 with a section of which no row could be inspected."""
    judge, entry = judge_of(show), entry_of(show, 2)
    events = [
        not_inspected(entry, row.code)
        if row.section.code == section
        else mark(entry, row.code, fair(judge, entry, row))
        for row in rows_of(judge, entry)
    ]
    send(judge.devices.first() or pair(judge)[0], [*events, hand_in(entry)])


@pytest.mark.parametrize(("policy", "waits"), [("rescale", True), ("zero", False)])
def test_a_section_nothing_could_be_judged_of_is_missing_unless_it_counts_zero(
    client: Client, policy: str, waits: bool
):
    show = build_show(n_judges=3, judges_per_section=3, kin=False)
    ClassCard.objects.update(not_inspected=policy)
    mark_everything(show, leave_out=[("J1", 2)])
    nothing_seen(show, SECTIONS[0])
    text = block(page(client, show), show)
    assert ("1 card missing" in text) is waits
    assert (
        f"wagon {entry_of(show, 2).called}: nothing could be judged of Running gear" in text
    ) is waits
    answer = press(client, "compute", class_of(show).pk, office_of(show))
    assert ("is incomplete" in said(answer)) is waits
    assert Result.objects.exists() is not waits


def test_a_row_without_weight_does_not_make_a_section_judged(show: Show):
    gear = Criterion.objects.filter(section__code=SECTIONS[0])
    weightless = gear.first()
    assert weightless
    gear.filter(pk=weightless.pk).update(weight=0)
    assert not class_inputs(class_of(show)).missing
    others = CardMark.objects.filter(criterion__in=gear.exclude(pk=weightless.pk))
    others.filter(card__entry__number=2, card__judge__code="J1").update(
        state="not_inspected", value=None
    )
    gaps = class_inputs(class_of(show)).missing
    assert [(gap.entry.number, gap.judge_code, gap.section) for gap in gaps] == [
        (2, "J1", SECTIONS[0])
    ]


def test_what_is_missing_is_what_has_no_points_when_scored(show: Show):
    CardMark.objects.filter(card__entry__number=3, criterion__code="rg_wheels").update(
        state="empty", value=None
    )
    inputs = class_inputs(class_of(show))
    scored = [seat for seat in inputs.judged if seat.score(inputs.policy).points is None]
    assert len(scored) == 3
    assert [(gap.entry, gap.judge_code, gap.section) for gap in inputs.missing] == [
        (seat.entry, seat.judge_code, seat.section.code) for seat in scored
    ]
    assert len(inputs.points) + len(scored) == len(inputs.judged)


def test_a_class_without_panel_or_entries_says_so(client: Client):
    show = build_show(n_entries=0)
    assert "No confirmed entry is in this class." in block(page(client, show), show)
    seated = build_show(slug="seated", n_entries=2)
    text = block(page(client, seated), seated)
    assert "lacks 2 judges for Running gear" in text
    assert "Draw the panel first." in text
    draw_panel(seated)
    assert "6 rows without a mark" in block(page(client, seated), seated)


def test_a_class_not_declared_says_so(client: Client):
    show = build_show(n_entries=1)
    show.classes.create(code="late", name="Late class", position=9)
    assert "not declared yet how this class is judged" in page(client, show)


def test_a_complete_class_is_ready_and_computed_by_one_button(client: Client, show: Show):
    assert "ready to compute" in block(page(client, show), show)
    answer = press(client, "compute", class_of(show).pk, office_of(show))
    assert answer.url == f"{results(show)}#class-{class_of(show).pk}"
    assert said(answer) == "Trail wagon: version 1 computed."
    text = block(page(client, show), show)
    assert "version 1 computed" in text
    assert "ready to compute" not in text
    assert "ready to compute" in block(page(client, show), show, "working_harness")


# --- Every method ---------------------------------------------------------------------


def mild_j2(judge: Judge, entry: Entry, criterion: Criterion) -> int:
    """Entry 1 is the best by a step, and never seen by J2, who is far milder than the others."""
    wagon = 3 if entry.number == 1 else 2
    ripple = (judge.pk * 7 + entry.pk * 5 + criterion.pk * criterion.pk * 3) % 2
    return wagon + (5 if judge.code == "J2" else 0) + ripple


def test_the_declared_method_decides_and_disagreements_are_one_sentence_a_wagon(client: Client):
    show = build_show(n_judges=4, judges_per_section=3)
    mark_everything(show, mild_j2)
    result = computed(show)
    lines = list(result.placings.all())
    differing = [p for p in lines if any(b["place"] != p.place for b in p.by_method.values())]
    assert differing, "the marks were chosen so that the methods disagree"
    assert entry_of(show, 1).pk in {placing.entry_id for placing in differing}
    text = block(page(client, show), show)
    assert text.count("methods differ") == len(differing)
    for placing in differing:
        (words,) = re.findall(rf"methods differ</span> ([^<]*place {placing.place}[^<]*?\.) ", row(
            text, placing.entry))  # fmt: skip
        assert words.startswith("Plain total")
        for name, by in placing.by_method.items():
            said_of = words.lower().split(f" place {by['place']}")[0]
            assert method_in_sentence(name) in said_of, (name, words)
    assert "Plain total<br>(decides)" in text
    assert "Judge-adjusted total<br>(decides)" not in text
    assert "Plain total was declared before judging and decides." in text
    effects = result.judge_effects["running_gear"]
    assert escape(habit_words("J2", effects["J2"])) in text
    assert escape("points higher than the panel's average") in text


def row(text: str, entry: Entry) -> str:
    """Return the row of the first table that has this wagon."""
    (first, *_) = [part for part in text.split("<tr>") if str(escape(str(entry))) in part]
    return first


def test_totals_and_places_by_every_method_are_those_of_the_result(client: Client, show: Show):
    result = computed(show)
    text = block(page(client, show), show)
    totals = text[text.index("Totals by every method") : text.index("Points by section")]
    first = result.placings.first()
    assert first
    assert len(first.by_method) > 2
    for placing in result.placings.all():
        main = row(text, placing.entry)
        assert f'data-label="Place"><strong>{placing.place}</strong>' in main
        assert f"<strong>{placing.total}</strong>" in main
        for name, by in placing.by_method.items():
            if name != "plain":
                cell = f'data-label="By {SHORT_NAMES[name]}">{by["place"]}</td>'
                assert cell in main
                assert f">{by['total']}</td>" in row(totals, placing.entry)
        for points in placing.by_section.values():
            assert f">{points}<" in text
    assert "Every method that can be used places every wagon alike." in text


def test_a_result_computed_before_every_method_was_kept_shows_the_two_it_has(
    client: Client, show: Show
):
    result = computed(show)
    result.placings.update(by_method={}, rank_low=None, rank_high=None)
    Result.objects.filter(pk=result.pk).update(uncertainty={}, result_hash="")
    text = block(page(client, show), show)
    assert "Place by<br>judge-adjusted total" in text
    assert "Place by<br>trimmed mean" not in text
    assert "How sure the places are" not in text
    assert "Fingerprint" not in text


def test_ties_and_refusals_are_told(client: Client, show: Show):
    result = computed(show)
    first, second = result.placings.all()[:2]
    Placing.objects.filter(pk=first.pk).update(decided_by="Harness")
    Placing.objects.filter(pk=second.pk).update(place=first.place)
    Result.objects.filter(pk=result.pk).update(
        refusals={"judge_adjusted": "In section harness no judge links the wagons."}
    )
    text = block(page(client, show), show)
    assert "Equal total, decided by Harness." in text
    assert text.count("Shares the place.") == 2
    assert "Judge-adjusted total cannot be given. In section Harness no judge links" in text


@pytest.mark.parametrize(
    ("effect", "words"),
    [
        (0.84, "J2 marks 0.8 points higher than the panel's average."),
        (-1.25, "J2 marks 1.2 points lower than the panel's average."),
        (0.04, "J2 marks like the panel's average."),
    ],
)
def test_a_judges_habit_is_a_sentence(effect: float, words: str):
    assert habit_words("J2", effect) == words


# --- Two hands, then the release ------------------------------------------------------


def button(text: str, words: str) -> str:
    """Return the tag of a button by the start of its words."""
    found = re.search(rf"<button[^>]*>{words}", text)
    assert found
    return found[0]


def test_two_hands_sign_and_the_office_releases(client: Client, show: Show):
    result = computed(show)
    text = block(page(client, show), show)
    assert "disabled" not in button(text, "Sign version 1")
    assert "disabled" in button(text, "Release version 1")
    assert "It needs 2 more signatures." in text

    assert "Another person signs next." in said(press(client, "sign", result.pk, office_of(show)))
    text = block(page(client, show), show)
    assert "disabled" in button(text, "Sign version 1")
    assert escape("You have signed; the second hand must be another person's.") in text
    assert "It needs 1 more signature." in text
    again = press(client, "sign", result.pk, office_of(show))
    assert "second hand must be another person" in said(again)
    assert Signature.objects.count() == 1
    early = press(client, "release", result.pk, office_of(show))
    assert "needs 2 signatures; it has 1" in said(early)

    assert "It can be released." in said(press(client, "sign", result.pk, steward_of(show)))
    steward_text = block(page(client, show, steward_of(show)), show)
    assert "Only the show office releases results." in steward_text
    assert press(client, "release", result.pk, steward_of(show)).status_code == 403
    result.refresh_from_db()
    assert result.released_at is None

    assert "released" in said(press(client, "release", result.pk, office_of(show)))
    result.refresh_from_db()
    assert result.released_at is not None
    text = block(page(client, show), show)
    assert "version 1 released" in text
    assert "Signed by Marguerite Oyelaran, Tobias Windfeather." in text
    assert "Sign version 1" not in text


def test_open_questions_stop_the_signing(client: Client):
    def slip(judge: Judge, entry: Entry, criterion: Criterion) -> int:
        slipped = (judge.code, entry.number, criterion.code) == ("J1", 2, "hn_lines")
        return (
            0 if slipped else 8 if criterion.code == "hn_lines" else fair(judge, entry, criterion)
        )

    show = build_show(n_judges=3, judges_per_section=3, kin=False)
    mark_everything(show, slip)
    answer = press(client, "compute", class_of(show).pk, office_of(show))
    assert "1 question waits for a judge before signing." in said(answer)
    assert Question.objects.count() == 1
    text = block(page(client, show), show)
    assert "disabled" in button(text, "Sign version 1")
    assert escape("1 question waits for a judge's answer first.") in text
    result = latest_result(class_of(show))
    assert result
    assert "waits for a judge" in said(press(client, "sign", result.pk, office_of(show)))
    assert not Signature.objects.exists()


def test_marks_changed_after_computing_stop_the_signing_until_computed_again(
    client: Client, show: Show
):
    result = computed(show)
    change_a_mark(show)
    text = block(page(client, show), show)
    assert "marks changed after version 1" in text
    assert "disabled" in button(text, "Sign version 1")
    assert "Compute version 2" in text
    assert "Marks changed" in said(press(client, "sign", result.pk, office_of(show)))
    answer = press(client, "compute", class_of(show).pk, office_of(show))
    assert "version 2 computed" in said(answer)


def test_a_correction_after_release_needs_its_reason(client: Client, show: Show):
    release_results(show)
    same = press(client, "compute", class_of(show).pk, office_of(show), reason="Just looking.")
    assert "no mark has changed, so version 1 stands" in said(same)
    change_a_mark(show)
    refused = press(client, "compute", class_of(show).pk, office_of(show), reason="  ")
    assert refused.status_code == 422
    text = block(refused.content.decode(), show)
    assert "Why is the result corrected?" in text
    assert "<details open>" in text
    answer = press(client, "compute", class_of(show).pk, office_of(show), reason="A slip.")
    assert "version 2 computed" in said(answer)
    text = block(page(client, show), show)
    assert "Correction: <bdi>A slip.</bdi>" in text
    assert "Version 1 is public until then." in text
    public = Result.objects.released().get(show_class=class_of(show))
    assert public.version == 1
    newest = latest_result(class_of(show))
    assert newest
    for hand in (office_of(show), steward_of(show)):
        press(client, "sign", newest.pk, hand)
    press(client, "release", newest.pk, office_of(show))
    assert Result.objects.released().get(show_class=class_of(show)).version == 2

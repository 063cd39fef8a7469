"""The handbook, a show's own parts, the preparation list and the evener, as anybody reads them."""

from __future__ import annotations

import re
from html import unescape

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from judging.models import Criterion, Scorecard, Section
from judging.queries.library import drawings, handbook
from showrun.shows.models import Show
from tests.people import ShowFactory

DROP_TEAM = "tongue=drop&hitch=team&draft=leather&pattern=civil&holdback=pole_strap"
STIFF_SIX = "tongue=stiff&hitch=six_up&draft=chain&pattern=military&holdback=side_backer"
HOSTILE = '"><script>alert(1)</script><img src=x onerror=alert(2)>'


def read(name: str, *args: object, query: str = "") -> str:
    answer = Client().get(f"{reverse(name, args=args)}?{query}")
    assert answer.status_code == 200
    return str(answer.content.decode())


def parts_in(text: str) -> list[str]:
    return re.findall(r'<article class="hb-part" id="part-(\w+)"', text)


def rows_in(text: str) -> list[str]:
    return [
        unescape(name)
        for name in re.findall(r'aria-hidden="true"></span><bdi>([^<]+)</bdi></h3>', text)
    ]


@pytest.fixture
def card(show: Show) -> Scorecard:
    """A card in use with rows for every rig, for a drop tongue, and for leaders."""
    card = Scorecard.objects.create(show=show, name="Harness of the show", in_use=True)
    section = Section.objects.create(
        scorecard=card, code="harness", name="Harness", points=20, minutes=5
    )
    for position, (code, name, applies, parts) in enumerate(
        [
            ("layout", "Laid out by horse", {}, ["harness_set"]),
            ("yoke", "Neck yoke", {"tongue": ["drop"]}, ["neck_yoke", "yoke_ring"]),
            ("lead", "Lead bars", {"hitch": ["four_up", "six_up"]}, ["lead_bars", "no_such"]),
            ("straps", "Hames closed", {}, ["hame_strap_bottom", "locking_collar"]),
        ]
    ):
        Criterion.objects.create(
            section=section,
            code=code,
            name=name,
            applies=applies,
            parts=parts,
            position=position,
            guidance=f"How {name.lower()} earns its mark.",
        )
    return card


# --- The whole handbook --------------------------------------------------------------------


def test_the_study_sheet_has_every_part_and_every_drawing_once():
    text = unescape(read("judging:handbook"))
    assert parts_in(text) == list(handbook())
    assert sorted(re.findall(r'id="drawing-([\w-]+)"', text)) == sorted(drawings())
    for name, drawing in drawings().items():
        assert f'src="/static/judging/drawings/{name}.svg" alt="{drawing.alt}"' in text
    assert "is never a clearance" in text
    assert "A score is not a safety inspection." in text


def test_every_drawing_of_the_sheet_is_served_as_a_picture():
    for drawing in drawings().values():
        answer = Client().get(f"/static/{drawing.static_path}")
        assert (answer.status_code, answer.headers["Content-Type"]) == (200, "image/svg+xml")


def test_links_between_drawings_and_parts_lead_somewhere():
    text = read("judging:handbook")
    ids = re.findall(r'\bid="([^"]+)"', text)
    assert len(ids) == len(set(ids))
    inside = re.findall(r'href="#([^"]+)"', text)
    assert len(inside) > 100
    assert set(inside) <= set(ids)


def test_a_part_says_its_danger_rigs_and_source_in_words():
    text = read("judging:handbook")
    article = text.split('id="part-martingale"')[1].split("</article>")[0]
    assert "A: do not move the team" in article
    assert "military pattern; pole straps" in article
    assert "Handbook for Light Artillery, 1896 (year from memory)" in article
    assert "Raise a safety concern" in article


@pytest.mark.django_db
def test_paper_has_its_own_rules_and_neither_form_nor_menu(show: Show, card: Scorecard):
    css = b"".join(Client().get("/static/judging/handbook.css")).decode()
    on_paper = css.split("@media print")[1]
    assert "break-inside: avoid" in on_paper
    for name, only_on_a_screen in (
        ("judging:show-handbook", '<nav class="hb-groups no-print"'),
        ("judging:prepare", '<section class="block no-print" aria-labelledby="rig-h">'),
    ):
        text = read(name, show.slug)
        assert '<link rel="stylesheet" href="/static/judging/handbook.css">' in text
        assert only_on_a_screen in text


# --- A show's own ---------------------------------------------------------------------------


@pytest.mark.django_db
def test_a_shows_handbook_has_the_parts_of_its_card_only(show: Show, card: Scorecard):
    text = read("judging:show-handbook", show.slug)
    wanted = {"harness_set", "neck_yoke", "yoke_ring", "lead_bars", "hame_strap_bottom"}
    assert parts_in(text) == [c for c in handbook() if c in wanted | {"locking_collar"}]
    assert "Harness of the show" in text
    # The drawing's other numbers are still named, without a link to nowhere.
    figure = text.split('id="drawing-neck-yoke-and-pole-straps"')[1].split("</figure>")[0]
    assert '<a href="#part-neck_yoke">Neck yoke</a>' in figure
    assert "<li>Pole strap</li>" in figure


@pytest.mark.django_db
def test_the_card_in_use_counts_and_no_draft(show: Show, card: Scorecard):
    draft = Scorecard.objects.create(show=show, name="Later draft", version=2)
    section = Section.objects.create(scorecard=draft, code="x", name="X", points=1, minutes=1)
    Criterion.objects.create(section=section, code="y", name="Y", parts=["dutch_ovens"])
    assert "dutch_ovens" not in parts_in(read("judging:show-handbook", show.slug))
    assert "Y" not in rows_in(read("judging:prepare", show.slug))


@pytest.mark.django_db
@pytest.mark.parametrize("name", ["judging:show-handbook", "judging:prepare"])
def test_a_show_without_a_card_says_so(show: Show, name: str):
    text = read(name, show.slug)
    assert "This show has no scorecard yet" in text
    assert reverse("judging:handbook") in text


@pytest.mark.django_db
@pytest.mark.parametrize("name", ["judging:show-handbook", "judging:prepare"])
def test_no_such_show(client: Client, name: str):
    answer = client.get(reverse(name, args=["nowhere"]))
    assert answer.status_code == 404
    assert b"There is no show at this address." in answer.content


# --- How to prepare --------------------------------------------------------------------------


@pytest.mark.django_db
def test_the_list_follows_the_rig(show: Show, card: Scorecard):
    text = read("judging:prepare", show.slug, query=DROP_TEAM)
    assert rows_in(text) == ["Laid out by horse", "Neck yoke", "Hames closed"]
    assert "drop tongue, team of two, leather tugs, civil pattern, pole straps" in text
    assert "Tip the collars back once" in text  # the civil strap's own line
    assert "the lock facing the judge" not in text  # the military collar is not this rig's
    text = read("judging:prepare", show.slug, query=STIFF_SIX)
    assert rows_in(text) == ["Laid out by horse", "Lead bars", "Hames closed"]
    assert "the lock facing the judge" in text
    assert "Tip the collars back once" not in text


@pytest.mark.django_db
def test_a_fact_left_open_keeps_its_rows_and_says_on_which_rig(show: Show, card: Scorecard):
    text = read("judging:prepare", show.slug, query="tongue=drop")
    assert rows_in(text) == ["Laid out by horse", "Neck yoke", "Lead bars", "Hames closed"]
    assert "Only with: four-up or six-up" in text
    assert "Only with: drop tongue" not in text
    assert "Only with: drop tongue" in read("judging:prepare", show.slug)


@pytest.mark.django_db
def test_the_list_opens_with_laying_out_and_the_cautions(show: Show, card: Scorecard):
    Show.objects.filter(pk=show.pk).update(cautions={"fire": "The fire officer decides."})
    text = read("judging:prepare", show.slug)
    first = text.index("First: lay the harness out where it can be seen")
    assert text.index("The fire officer decides.") < first < text.index("Laid out by horse")
    assert "Nothing piled on the tongue" in text
    assert "Nothing on this list makes harness, animals, fire or food safe." in text
    assert "How laid out by horse earns its mark." in text


@pytest.mark.django_db
def test_a_fact_nobody_knows_counts_as_left_open(show: Show, card: Scorecard):
    wild = f"tongue={HOSTILE}&hitch=nine_up"
    text = read("judging:prepare", show.slug, query=wild)
    assert rows_in(text) == rows_in(read("judging:prepare", show.slug))
    assert "<script>alert" not in text


@pytest.mark.django_db
def test_hostile_words_are_only_words(show: Show, card: Scorecard):
    Scorecard.objects.update(name=HOSTILE)
    Section.objects.update(name=HOSTILE)
    Criterion.objects.update(name=HOSTILE[:80], guidance=HOSTILE)
    Show.objects.filter(pk=show.pk).update(name=HOSTILE, cautions=[HOSTILE])
    for name in ("judging:show-handbook", "judging:prepare"):
        text = read(name, show.slug)
        assert "&lt;script&gt;alert(1)" in text
        assert "<script>alert" not in text
        assert "<img src=x" not in text


@pytest.mark.django_db
@pytest.mark.parametrize("name", ["judging:show-handbook", "judging:prepare"])
def test_a_long_card_asks_no_more_of_the_database(show: Show, card: Scorecard, name: str):
    def queries() -> int:
        with CaptureQueriesContext(connection) as seen:
            read(name, show.slug)
        return len(seen)

    few = queries()
    section = card.sections.get()
    Criterion.objects.bulk_create(
        Criterion(section=section, code=f"r{n}", name=f"Row {n}", parts=["hubs"], position=9 + n)
        for n in range(200)
    )
    assert queries() == few <= 6


@pytest.mark.django_db
def test_other_shows_keep_their_own(show: Show, card: Scorecard):
    text = read("judging:prepare", ShowFactory.create().slug)
    assert "Harness of the show" not in text


# --- The evener -------------------------------------------------------------------------------


def figures(text: str) -> list[list[str]]:
    body = text.split("<tbody>")[1].split("</tbody>", maxsplit=1)[0]
    return [re.findall(r"<td[^>]*>([^<]+)</td>", row) for row in body.split("</tr>")[:2]]


def test_before_it_is_asked_it_shows_three_questions_and_the_cautions():
    text = read("judging:evener")
    assert text.count('name="ask"') == 3
    assert "<tbody>" not in text
    assert "the three holes are in one line" in text
    assert "made and checked by a harness maker or wheelwright" in text
    assert "say-bad" in text and 'role="alert"' not in text


@pytest.mark.parametrize(
    ("query", "wanted"),
    [
        (
            "ask=arms&bar=4 ft 0 in&one=5&two=3",
            [["18 in", "1 ft 6 in", "457 mm", "5/8 (62.5 %)"],
             ["30 in", "2 ft 6 in", "762 mm", "3/8 (37.5 %)"]],
        ),
        (
            "ask=arms&bar=42&one=4&two=3",
            [["18 in", "1 ft 6 in", "457 mm", "4/7 (57.1 %)"],
             ["24 in", "2 ft 0 in", "610 mm", "3/7 (42.9 %)"]],
        ),
        (
            "ask=shares&arm_one=30 in&arm_two=1 ft 6 in",
            [["30 in", "2 ft 6 in", "762 mm", "3/8 (37.5 %)"],
             ["18 in", "1 ft 6 in", "457 mm", "5/8 (62.5 %)"]],
        ),
        (
            "ask=three&bar=3 ft",
            [["12 in", "1 ft 0 in", "305 mm", "2/3 (66.7 %)"],
             ["24 in", "2 ft 0 in", "609 mm", "1/3 (33.3 %)"]],
        ),
        (
            "ask=arms&bar=120&one=1&two=1&unit=cm",
            [["23 5/8 in", "1 ft 11 5/8 in", "600 mm", "1/2 (50.0 %)"],
             ["23 5/8 in", "1 ft 11 5/8 in", "600 mm", "1/2 (50.0 %)"]],
        ),
    ],
)  # fmt: skip
def test_answers(query: str, wanted: list[list[str]]):
    assert figures(read("judging:evener", query=query)) == wanted


def test_what_was_rounded_is_said():
    assert "Bored to the eighth" in read("judging:evener", query="ask=three&bar=40")
    assert "Bored to the eighth" not in read("judging:evener", query="ask=three&bar=36")


def test_the_drawing_has_its_holes_to_scale():
    text = read("judging:evener", query="ask=arms&bar=48&one=5&two=3")
    left, middle, right = (float(x) for x in re.findall(r'<circle cx="([\d.]+)"', text))
    assert (middle - left) / (right - left) == pytest.approx(18 / 48, abs=0.002)
    assert 'role="img"' in text and "First animal 18 in from the middle hole" in text


@pytest.mark.parametrize(
    ("query", "sentence"),
    [
        ("ask=arms&bar=0&one=1&two=1", "A length is more than zero."),
        ("ask=arms&bar=-4 ft&one=1&two=1", "A length is more than zero."),
        ("ask=arms&bar=400 ft&one=1&two=1", "see whether the unit is right"),
        ("ask=arms&bar=48&one=9&two=1", "No evener makes a team of that."),
        ("ask=arms&bar=48&one=0&two=1", "A strength is more than zero."),
        ("ask=arms&bar=48&one=1/0&two=1", "Nothing is divided by zero."),
        ("ask=arms&bar=&one=&two=", "A length, please"),
        ("ask=shares&arm_one=long&arm_two=12", "Write the length as"),
        ("ask=three&bar=" + "9" * 5000, "Write the length as"),
    ],
)
def test_what_makes_no_evener_is_said_in_words(query: str, sentence: str):
    text = unescape(read("judging:evener", query=query))
    assert 'role="alert"' in text
    assert sentence in text
    assert "<tbody>" not in text


def test_hostile_lengths_are_only_words():
    for ask, field in (("arms", "bar"), ("shares", "arm_one"), (HOSTILE, "bar")):
        text = read("judging:evener", query=f"ask={ask}&{field}={HOSTILE}")
        assert "<script>alert" not in text
        assert "<img src=x" not in text


def test_a_question_nobody_knows_shows_the_three():
    assert "<tbody>" not in read("judging:evener", query="ask=four&bar=48")

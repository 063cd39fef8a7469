"""The pictures of a result on the page and on paper: the same template, its words readable."""

from __future__ import annotations

from datetime import UTC, datetime
from decimal import Decimal
from typing import Any
from xml.etree import ElementTree

import pytest
from django.template.loader import render_to_string

from judging.rules.results.places_chart import PlaceLine, places_chart
from judging.rules.results.points_chart import LOOKS, WagonPoints, points_chart
from reports import pdf
from tests.drawn_papers import demand_accessible, demand_inside, text

SVG = "{http://www.w3.org/2000/svg}"
NAMES = ("Quiet Anvil", "Tin & Sons", "Nine Biscuit")
PANEL = {"J1": "Chidi Abara", "J2": "Ingrid Lindqvist"}


def places() -> str:
    chart = places_chart(
        [PlaceLine(n + 4, name, n + 1, (1, 3), (1, 2)) for n, name in enumerate(NAMES)]
    )
    return render_to_string("judging/chart_places.html", {"chart": chart, "id": "one"})


def points() -> str:
    chart = points_chart(
        "Running gear",
        [
            WagonPoints(n + 4, name, {"J1": Decimal(30 + n), "J2": Decimal(30)})
            for n, name in enumerate(NAMES)
        ],
        PANEL,
        Decimal(40),
    )
    return render_to_string("judging/chart_points.html", {"chart": chart, "id": "two"})


def element(picture: str) -> ElementTree.Element:
    # Inside a page the namespace is given; alone, it has to be said.
    return ElementTree.fromstring(
        picture.replace("<svg", '<svg xmlns="http://www.w3.org/2000/svg"', 1)
    )


@pytest.mark.parametrize("picture", [places, points])
def test_a_picture_has_title_and_description_and_names_them(picture: Any) -> None:
    svg = element(picture())
    title, words = svg.find(f"{SVG}title"), svg.find(f"{SVG}desc")
    assert title is not None
    assert words is not None
    assert title.text
    assert words.text
    assert svg.get("aria-labelledby") == f"{title.get('id')} {words.get('id')}"
    assert svg.get("role") == "img"


@pytest.mark.parametrize("picture", [places, points])
def test_a_picture_has_one_ink_and_needs_no_colour(picture: Any) -> None:
    inks = {part.get(ink) for part in element(picture()).iter() for ink in ("fill", "stroke")}
    assert inks <= {None, "none", "currentColor"}


def test_every_dot_and_every_square_is_drawn_once() -> None:
    svg = element(points())
    titles = [part.text for part in svg.iter(f"{SVG}title")]
    assert titles.count("5 Tin & Sons, J1 Chidi Abara: 31") == 1
    assert len(list(svg.iter(f"{SVG}path"))) == len(NAMES) * 2 + len(PANEL)
    svg = element(places())
    assert len(list(svg.iter(f"{SVG}rect"))) == len(NAMES)
    broken = [line for line in svg.iter(f"{SVG}line") if line.get("stroke-dasharray") == "4 3"]
    assert len(broken) == len(NAMES)


@pytest.mark.parametrize("picture", [places, points])
def test_on_paper_the_same_template_is_drawn_with_its_words(picture: Any) -> None:
    html = (
        '<!doctype html><html lang="en"><head><meta charset="utf-8"><title>Result</title>'
        '<link rel="stylesheet" href="asset:reports/paper.css"></head>'
        f"<body><h1>Result</h1>{picture()}</body></html>"
    )
    drawn = pdf.draw(html, title="Result", lang="en", made_at=datetime(2027, 5, 15, tzinfo=UTC))
    assert drawn.pages == 1
    words = text(drawn)
    for name in ("Quiet Anvil", "Nine Biscuit", "4", "6"):
        assert name in words
    demand_inside(drawn)
    demand_accessible(drawn)


def test_as_many_looks_as_a_picture_tells_apart_are_drawn_apart() -> None:
    panel = {f"J{n}": f"Judge {n}" for n in range(len(LOOKS))}
    wagon = WagonPoints(1, "Tin", {judge: Decimal(n) for n, judge in enumerate(panel)})
    chart = points_chart("Harness", [wagon], panel, Decimal(40))
    assert chart
    at_nought = {
        (render_to_string("judging/chart_dot.html", {"dot": item.dot}).split("</title>")[1])
        for item in chart.key
    }
    assert len(at_nought) == len(LOOKS)

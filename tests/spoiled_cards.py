"""A card with every form in it, and all the ways a card file can be wrong."""

from __future__ import annotations

from typing import Any

from tests.drawn_cards import RIG_FACTS

Data = dict[str, Any]


def good() -> Data:
    """A card with a section in each form, freshly made for a test to spoil."""
    return {
        "code": "wagon",
        "name": "Wagon",
        "version": 2,
        "rig_facts": {fact: list(values) for fact, values in RIG_FACTS.items()},
        "sections": [
            {
                "code": "gear",
                "name": "Gear",
                "points": 25,
                "minutes": 4,
                "quick_phrases": ["Tight and true"],
                "criteria": [
                    {"code": "hubs", "name": "Hubs", "max_mark": 10, "step": 0.5},
                    {"code": "tongue", "name": "Tongue", "max_mark": 10, "step": 1,
                     "one_of": "pole", "applies": {"tongue": ["drop"]}, "parts": ["tongue"]},
                    {"code": "stop", "name": "Pole stop", "max_mark": 10, "step": 1,
                     "one_of": "pole", "applies": {"tongue": ["stiff"]}},
                ],
            },
            {
                "code": "gate",
                "name": "Gate",
                "points": 0,
                "minutes": 2,
                "form": "pass_fail",
                "all_or_nothing": True,
                "criteria": [{"code": "water", "name": "Water at the fire"}],
            },
            {
                "code": "best",
                "name": "Best camp",
                "points": 10,
                "minutes": 1,
                "form": "placings",
                "criteria": [{"code": "place", "name": "Place", "max_mark": 26}],
            },
        ],
    }  # fmt: skip


def with_value(place: str, value: Any) -> Data:
    """The good card with one value put in, or taken out where the value is None."""
    data = good()
    *path, last = [int(part) if part.isdigit() else part for part in place.split(".")]
    spot: Any = data
    for key in path:
        spot = spot[key]
    if value is None:
        del spot[last]
    else:
        spot[last] = value
    return data


ROW = "sections.0.criteria.0"
# What the schema can say too.
STRUCTURE: list[tuple[str, Any, str]] = [
    ("colour", "red", "not known here"),
    ("sections.0.worth", 5, "not known here"),
    (f"{ROW}.maximum", 5, "not known here"),
    ("name", None, "missing"),
    ("name", "   ", "empty"),
    ("name", 7, "A text"),
    ("name", "n" * 121, "At most 120"),
    ("code", "Wagon No 1", "lowercase letters"),
    ("code", "w" * 51, "at most 50"),
    ("version", 0, "From 1"),
    ("version", 1.5, "whole number"),
    ("version", True, "whole number"),
    ("notice", ["x"], "A text"),
    ("rig_facts.tongue", ["drop"], "not the facts"),
    ("rig_facts.wheels", ["iron"], "not the facts"),
    ("rig_facts", "all", "not the facts"),
    ("sections", None, "missing"),
    ("sections", {}, "A list"),
    ("sections", [], "At least one"),
    ("sections.0", "gear", "A section is a mapping"),
    ("sections.0.code", None, "missing"),
    ("sections.0.code", "Gear", "lowercase"),
    ("sections.0.code", 7, "put it in quotes"),
    ("sections.0.name", None, "missing"),
    ("sections.0.name", "n" * 81, "At most 80"),
    ("sections.0.points", None, "missing"),
    ("sections.0.points", 0, "More than zero"),
    ("sections.0.points", -5, "More than zero"),
    ("sections.0.points", "25", "A number"),
    ("sections.0.points", True, "A number"),
    ("sections.0.points", 10_000, "At most 9999.99"),
    ("sections.1.points", -1, "Zero or more"),
    ("sections.2.points", 0, "More than zero"),
    ("sections.0.minutes", None, "missing"),
    ("sections.0.minutes", 0, "From 1"),
    ("sections.0.minutes", "4", "whole number"),
    ("sections.0.form", "stars", "One of points, pass_fail, placings"),
    ("sections.1.all_or_nothing", "yes", "true or false"),
    ("sections.0.all_or_nothing", True, "Only a section of pass or fail"),
    ("sections.0.quick_phrases", "Tight", "A list"),
    ("sections.0.quick_phrases.0", "p" * 61, "At most 60"),
    ("sections.0.quick_phrases.0", " ", "A text"),
    ("sections.0.criteria", None, "missing"),
    ("sections.0.criteria", [], "At least one"),
    ("sections.0.criteria", "hubs", "A list"),
    (ROW, "hubs", "A criterion is a mapping"),
    (f"{ROW}.code", None, "missing"),
    (f"{ROW}.code", "größe", "lowercase"),
    (f"{ROW}.name", None, "missing"),
    (f"{ROW}.name", "n" * 81, "At most 80"),
    (f"{ROW}.max_mark", None, "missing"),
    (f"{ROW}.max_mark", 0, "More than zero"),
    (f"{ROW}.max_mark", "ten", "A number"),
    (f"{ROW}.max_mark", 1000, "At most 999.99"),
    (f"{ROW}.step", None, "missing"),
    (f"{ROW}.step", -1, "More than zero"),
    (f"{ROW}.weight", 0, "More than zero"),
    (f"{ROW}.weight", [1], "A number"),
    (f"{ROW}.danger", "D", "One of A, B, C"),
    (f"{ROW}.danger", ["A"], "One of A, B, C"),
    (f"{ROW}.guidance", 5, "A text"),
    (f"{ROW}.guidance", "g" * 2_001, "At most 2000"),
    (f"{ROW}.applies", "drop", "names facts"),
    (f"{ROW}.applies", [], "never apply"),
    (f"{ROW}.applies", {"wheels": ["iron"]}, "no fact “wheels”"),
    (f"{ROW}.applies", {"tongue": ["iron"]}, "no value of tongue"),
    (f"{ROW}.applies", {"tongue": []}, "never apply"),
    (f"{ROW}.applies", {"tongue": ["drop", "drop"]}, "twice"),
    (f"{ROW}.applies", {"tongue": "drop"}, "a list, even if"),
    (f"{ROW}.one_of", "Pole stop", "lowercase"),
    (f"{ROW}.parts", "hub", "A list"),
    (f"{ROW}.parts", ["hub", "hub"], "twice"),
    (f"{ROW}.parts", ["Hub"], "lowercase"),
    (f"{ROW}.parts", [f"p{n}" for n in range(21)], "At most 20"),
    ("sections.1.criteria.0.max_mark", 2, "Pass is 1"),
    ("sections.1.criteria.0.step", 0.5, "Pass is 1"),
    ("sections.2.criteria.0.step", 2, "whole numbers"),
    ("sections.2.criteria.0.max_mark", 9.5, "whole numbers"),
    ("sections.2.criteria.0.applies", {"tongue": ["drop"]}, "leave the condition out"),
    ("sections.2.criteria", [{"code": "a", "name": "A"}, {"code": "b", "name": "B"}], "one row"),
    ("sections.0", {"take": {"card": "x", "section": "y"}, "name": "Z"}, "nothing else"),
    ("sections.0", {"take": "x"}, "Name the card"),
    ("sections.0", {"take": {"card": "x"}}, "missing"),
    ("sections.0", {"take": {"card": "x", "section": "y", "row": "z"}}, "not known"),
]
# What only the reader sees.
MEANING: list[tuple[str, Any, str]] = [
    ("sections.0.points", 10.001, "At most two decimals"),
    ("sections.0.points", float("nan"), "A number"),
    ("sections.0.points", float("inf"), "A number"),
    ("sections.0.points", 10**400, "At most 9999.99"),
    (f"{ROW}.step", 3, "Steps of 3 do not lead to 10"),
    (f"{ROW}.step", 0.3, "Steps of 0.3 do not lead to 10"),
    (f"{ROW}.name", "a\x00b", "cannot be shown"),
    (f"{ROW}.name", "Tongue\x1b[31m", "cannot be shown"),
    (f"{ROW}.guidance", "half a pair \ud83d", "cannot be shown"),
    (f"{ROW}.applies", [{"tongue": ["drop"]}, {"tongue": ["drop"]}], "is there twice"),
    (f"{ROW}.applies", [{"tongue": ["drop"]}, {}], "is part of"),
    ("sections.1.code", "gear", "Section code “gear” is there twice"),
    ("sections.1.criteria.0.code", "hubs", "Criterion code “hubs” is there twice"),
    ("sections.0", {"take": {"card": "harness", "section": "y"}}, "has no card “harness”"),
]

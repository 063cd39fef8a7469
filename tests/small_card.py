"""A small scorecard for tests, and rigs on which it has different rows."""

from __future__ import annotations

from typing import Any

SECTIONS = ("running_gear", "camp_kit", "harness")

SCORECARD: dict[str, Any] = {
    "name": "Wagon, camp and harness",
    "version": 1,
    "sections": [
        {
            "code": "running_gear",
            "name": "Running gear",
            "points": 40,
            "minutes": 4,
            "quick_phrases": ["Wheels tight and true", "Fresh grease, clean nuts"],
            "criteria": [
                {"code": "rg_wheels", "name": "Spokes and felloes", "max_mark": 10, "step": 1,
                 "weight": 2, "danger": "B", "guidance": "Tight joints earn the top."},
                {"code": "rg_brakes", "name": "Brake beam, shoes and rod", "max_mark": 10,
                 "step": 1, "danger": "A", "guidance": "Both shoes meet their wheels together."},
                {"code": "rg_queen_bolt", "name": "Queen bolt and drop-tongue hounds",
                 "max_mark": 10, "step": 1, "danger": "A", "applies": {"tongue": ["drop"]}},
            ],
        },
        {
            "code": "camp_kit",
            "name": "Camp kit",
            "points": 25,
            "minutes": 3,
            "quick_phrases": ["Cook can reach everything"],
            "criteria": [
                {"code": "ck_order", "name": "Order and reach", "max_mark": 10, "step": 1},
                {"code": "ck_fire", "name": "Fire tools and water", "max_mark": 10, "step": 1,
                 "danger": "B"},
            ],
        },
        {
            "code": "harness",
            "name": "Harness",
            "points": 35,
            "minutes": 5,
            "quick_phrases": ["Supple leather"],
            "criteria": [
                {"code": "hn_leather", "name": "Leather, condition", "max_mark": 10, "step": 1},
                {"code": "hn_lines", "name": "Lines and bits", "max_mark": 10, "step": 1,
                 "danger": "A"},
                {"code": "hn_leaders", "name": "Leaders' harness", "max_mark": 10, "step": 1,
                 "applies": {"hitch": ["four_up", "six_up"]}},
                {"code": "hn_pole_straps", "name": "Pole straps", "max_mark": 10, "step": 1,
                 "danger": "B", "applies": {"holdback": ["pole_strap"]}},
            ],
        },
    ],
}  # fmt: skip

RIGS: tuple[dict[str, str], ...] = tuple(
    dict(zip(("tongue", "hitch", "draft", "pattern", "holdback"), facts, strict=True))
    for facts in (
        ("drop", "team", "leather", "civil", "pole_strap"),
        ("stiff", "four_up", "leather", "civil", "pole_strap"),
        ("drop", "six_up", "leather", "civil", "pole_strap"),
        ("stiff", "team", "leather", "civil", "side_backer"),
        ("stiff", "four_up", "chain", "military", "pole_strap"),
    )
)

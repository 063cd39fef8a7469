"""Conditions, rigs and whole cards drawn by Hypothesis: each one that an office may write."""

from __future__ import annotations

from typing import Any

from hypothesis import strategies as st

from judging.rules.cards.condition import check

# Written out here and not taken from the service, so that a test compares two opinions.
RIG_FACTS = {
    "tongue": ("drop", "stiff"),
    "hitch": ("team", "four_up", "six_up"),
    "draft": ("leather", "chain"),
    "pattern": ("civil", "military"),
    "holdback": ("pole_strap", "side_backer"),
}


def _values_of(fact: str) -> st.SearchStrategy[list[str]]:
    return st.lists(st.sampled_from(RIG_FACTS[fact]), min_size=1, unique=True)


def _passes(condition: Any) -> bool:
    try:
        check(condition)
    except ValueError:
        return False
    return True


BRANCHES: st.SearchStrategy[dict[str, list[str]]] = st.fixed_dictionaries(
    {}, optional={fact: _values_of(fact) for fact in RIG_FACTS}
)
# Of the right shape; branches of a list may still repeat or contain each other.
CONDITIONS: st.SearchStrategy[Any] = BRANCHES | st.lists(BRANCHES, min_size=1, max_size=4)
RIGS: st.SearchStrategy[dict[str, str]] = st.fixed_dictionaries(
    {fact: st.sampled_from(values) for fact, values in RIG_FACTS.items()}
)

LETTERS = st.characters(exclude_categories=["Cc", "Cs"])
NAMES = st.text(LETTERS, min_size=1, max_size=20).filter(str.strip)
GUIDANCE = st.text(LETTERS | st.sampled_from("\n\t"), max_size=60)
CODES = st.from_regex(r"[a-z0-9_-]{1,12}", fullmatch=True)
HUNDREDTHS = st.integers(1, 99_999).map(lambda cents: cents / 100)
FORMS = st.sampled_from(["points", "pass_fail", "placings"])


@st.composite
def _rows(draw: st.DrawFn, form: str, codes: list[str]) -> list[dict[str, Any]]:
    rows = []
    for number, code in enumerate(codes):
        row: dict[str, Any] = {"code": code, "name": f"{draw(NAMES)} {number}"}
        if form == "points":
            step, times = draw(st.integers(1, 200)), draw(st.integers(1, 20))
            row |= {"max_mark": step * times / 100, "step": step / 100}
        if form != "placings" and draw(st.booleans()):
            row["applies"] = draw(CONDITIONS.filter(_passes))
        if draw(st.booleans()):
            row |= {
                "weight": draw(HUNDREDTHS),
                "danger": draw(st.sampled_from(["A", "B", "C"])),
                "parts": draw(st.lists(CODES, max_size=3, unique=True)),
                "guidance": draw(GUIDANCE),
            }
        rows.append(row)
    if form != "placings" and len(rows) > 1 and draw(st.booleans()):
        group = {"one_of": codes[0]}
        rows[0] |= group | {"applies": {"tongue": ["drop"]}}
        rows[1] |= group | {"applies": {"tongue": ["stiff"]}}
    return rows


@st.composite
def cards(draw: st.DrawFn) -> dict[str, Any]:
    """Plain data of a card that can be read, of one to three sections in any form."""
    card: dict[str, Any] = {"name": draw(NAMES), "sections": []}
    if draw(st.booleans()):
        card |= {
            "code": draw(CODES),
            "version": draw(st.integers(1, 9999)),
            "notice": draw(GUIDANCE),
            "rig_facts": {fact: list(values) for fact, values in RIG_FACTS.items()},
        }
    row_codes = iter(draw(st.lists(CODES, min_size=12, max_size=12, unique=True)))
    for code in draw(st.lists(CODES, min_size=1, max_size=3, unique=True)):
        form = draw(FORMS)
        count = 1 if form == "placings" else draw(st.integers(1, 4))
        section: dict[str, Any] = {
            "code": code,
            "name": draw(NAMES),
            "points": draw(HUNDREDTHS),
            "minutes": draw(st.integers(1, 600)),
            "criteria": draw(_rows(form, [next(row_codes) for _ in range(count)])),
        }
        if form != "points" or draw(st.booleans()):
            section["form"] = form
        if form == "pass_fail" and draw(st.booleans()):
            section |= {"all_or_nothing": True, "points": 0}
        if draw(st.booleans()):
            section["quick_phrases"] = draw(st.lists(NAMES, max_size=3))
        card["sections"].append(section)
    return card

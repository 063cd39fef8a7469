"""Every pair of the stylesheet's colours stands out enough, in light, in dark and in full sun."""

from __future__ import annotations

import re

import pytest

from showrun.project.house_style.tokens import (
    PAIRS,
    ROUND,
    STYLE,
    THEMES,
    TINT_SHARE,
    Pair,
    measured,
    sheet_text,
    tokens_after,
    tokens_of,
)
from showrun.shows.rules.contrast import BORDER_RATIO, SUN_RATIO, contrast

pytestmark = pytest.mark.static
HEX = re.compile(r"#[0-9A-Fa-f]{3}(?:[0-9A-Fa-f]{3})?\b")
# What the round has beside the tokens: words and the border of a drawing's plate, always on white;
# the black behind a photo; a heavy stroke that only the sun's white has.
WORDS_ON_WHITE = ("#1E2629", "#000")
BORDERS_ON_WHITE = ("#7D7361",)


@pytest.mark.parametrize("theme", THEMES)
@pytest.mark.parametrize("pair", PAIRS, ids=lambda pair: f"{pair.front} on {pair.ground}")
def test_a_pair_stands_out_enough(pair: Pair, theme: str) -> None:
    found = measured(pair, theme)
    assert found.reaches, f"{found.front} on {found.ground}: {found.ratio:.3f} < {found.wanted}"


def test_every_colour_of_the_stylesheet_is_in_a_pair() -> None:
    colours = {name for name, value in tokens_of("light").items() if value.startswith("#")}
    paired = {name.removesuffix(" tint") for pair in PAIRS for name in (pair.front, pair.ground)}
    # A line parts what stands apart already; nothing is told by it.
    assert colours - paired == {"line"}
    assert {name for name, _ in tokens_of("dark").items()} == set(tokens_of("light"))


def test_in_sun_words_have_seven_to_one_and_controls_far_more_than_three() -> None:
    for pair in PAIRS:
        assert measured(pair, "sun").ratio >= SUN_RATIO, pair


def test_a_token_that_fades_is_refused() -> None:
    pair = next(p for p in PAIRS if (p.front, p.ground) == ("ink-soft", "paper"))
    faded = tokens_of("light") | {"ink-soft": "#8A9599"}
    assert not measured(pair, "light", faded).reaches
    border = next(p for p in PAIRS if (p.front, p.ground) == ("edge", "sheet"))
    assert not measured(border, "light", tokens_of("light") | {"edge": "#C9BFAE"}).reaches


def test_the_round_chooses_among_the_same_themes() -> None:
    text = sheet_text(ROUND)
    for theme in ("light", "dark"):
        chosen = tokens_after(text, f':root[data-theme="{theme}"] {{')
        ours = tokens_of(theme)
        assert chosen == {name: ours[name] for name in chosen}
        assert {name for name in ours if ours[name].startswith("#")} == set(chosen)


def test_the_rounds_own_colours_stand_out_in_sun_as_well() -> None:
    own = re.sub(r":root\[data-theme[^{]*\{[^}]*\}", "", sheet_text(ROUND))
    found = set(HEX.findall(own)) - {"#FFFFFF"}
    assert found == {*WORDS_ON_WHITE, *BORDERS_ON_WHITE}
    assert all(contrast(one, "#FFFFFF") >= SUN_RATIO for one in WORDS_ON_WHITE)
    assert all(contrast(one, "#FFFFFF") >= BORDER_RATIO for one in BORDERS_ON_WHITE)


def test_pages_have_no_colours_beside_the_tokens_and_tint_as_is_measured() -> None:
    text = sheet_text(STYLE)
    blocks = re.sub(r":root[^{]*\{[^}]*\}", "", text)
    assert set(HEX.findall(blocks)) <= {"#000"}  # on paper, and of a mask
    assert set(re.findall(r"color-mix\(in srgb, var\(--\w+\) (\d+)%", text)) == {
        f"{TINT_SHARE:.0%}".rstrip("%")
    }

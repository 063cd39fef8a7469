"""Which rows a rig shows: the starter cards against a table written from the trade's sources.

The tables below are written by hand and not from the cards. Each line names a row, the rigs
that show it (facts as `fact=value|value`, several facts must all hold) and the source. A row
of a card that is not in its table is shown on every rig.
"""

from __future__ import annotations

from functools import cache
from typing import Any

import pytest

from entries.rules.rig import FACTS
from judging.queries.library import handbook, library_cards
from judging.rules.cards.card_file import CardFile, read_card_file
from judging.rules.cards.condition import applies, every_rig

RIGS = every_rig()
DROP = "Wooden Wagon Construction, 2007"  # the tongue's weight hangs on breast straps and yoke
STIFF = "Taming the Tongue, n.d."  # the gear carries the tongue; pole stop and hounds: CP
LEADERS = "Working Horses: Team Titles, 2013; Harnessing A Team, n.d."
BELLY = "Western style, n.d."  # quarter straps meet the pole strap under the belly
ARMY = "Handbook for Light Artillery, 1896 (year from memory)"
CHAIN = "common practice, no source: chains add pipe and hook and drop the cockeye"
OWN = "common practice, no source"

CAMP_TABLE = f"""
# row                  shown on                                    source
rg_queen_bolt          tongue=drop                                 {DROP}
rg_stiff_hounds        tongue=stiff                                {STIFF}
hn_breast_straps       tongue=drop                                 {DROP}
hn_neck_yoke           tongue=drop                                 {DROP}
hn_pole_stop           tongue=stiff                                {STIFF}
hn_hame_strap_top      pattern=civil                               {ARMY}
hn_hame_strap_bottom   pattern=civil                               {ARMY}
hn_locking_collar      pattern=military                            {ARMY}
hn_mil_traces          pattern=military                            {ARMY}
hn_martingale          pattern=military,holdback=pole_strap        {ARMY}
hn_tugs                draft=leather                               {CHAIN}
hn_cockeyes            draft=leather                               {CHAIN}
hn_chain_hooks         draft=chain                                 {CHAIN}
hn_chain_pipes         draft=chain                                 {CHAIN}
hn_chain_toggles       draft=chain                                 {CHAIN}
hn_pole_straps         pattern=civil,holdback=pole_strap           {BELLY}
hn_quarter_straps      holdback=pole_strap                         {BELLY}
hn_side_straps         holdback=side_backer                        {BELLY}
hn_lead_lines          hitch=four_up|six_up                        {LEADERS}
hn_lead_bars           hitch=four_up|six_up                        {LEADERS}
hn_lead_cruppers       hitch=four_up|six_up                        {LEADERS}
hn_swing_pair          hitch=six_up                                {LEADERS}
"""

DEPTH_TABLE = f"""
# row                  shown on                                    source
hd_lead_lines          hitch=four_up|six_up                        {LEADERS}
hd_hame_strap_top      pattern=civil                               {ARMY}
hd_hame_strap_bottom   pattern=civil                               {ARMY}
hd_locking_collar      pattern=military                            {ARMY}
hd_hame_tug            pattern=civil                               {ARMY}
hd_trace_toggle        pattern=military                            {ARMY}
hd_tug                 draft=leather                               {CHAIN}
hd_cockeye             draft=leather                               {CHAIN}
hd_trace_chain         draft=chain                                 {CHAIN}
hd_chain_pipe          draft=chain                                 {CHAIN}
hd_chain_toggle        draft=chain                                 {CHAIN}
hd_lead_bars           hitch=four_up|six_up                        {LEADERS}
hd_swing               hitch=six_up                                {LEADERS}
hd_quarter_straps      holdback=pole_strap                         {BELLY}
hd_pole_straps         pattern=civil,holdback=pole_strap           {BELLY}
hd_martingale          pattern=military,holdback=pole_strap        {ARMY}
hd_side_straps         holdback=side_backer                        {BELLY}
hd_breast_straps       tongue=drop                                 {DROP}
hd_neck_yoke           tongue=drop                                 {DROP}
hd_pole_stop           tongue=stiff                                {STIFF}
hd_queen_bolt          tongue=drop                                 {DROP}
hd_hounds              tongue=stiff                                {STIFF}
hd_choke_strap         holdback=pole_strap                         {OWN}
hd_spreader            holdback=pole_strap                         Spreader Bar (a catalogue), n.d.
hd_cruppers            hitch=four_up|six_up                        {LEADERS}
hd_army_back_strap     pattern=military                            {ARMY}
"""

# One line of the trade's harness table with its danger letter, and the row of `harness_in_depth`
# that looks at it.
HARNESS_ROWS = """
Bridle, crown, throatlatch, blinders   A  hd_bridle
Bit, curb                              A  hd_bit
Bit buckles/billets                    A  hd_bit_buckles
Lines                                  A  hd_lines
Cross-checks (stub lines)              B  hd_cross_checks
Terrets, spread rings                  C  hd_terrets
Lead lines, roller/rings               A  hd_lead_lines
Checkrein                              C  hd_checkrein
Collar, pad                            B  hd_collar
Hames                                  B  hd_hames
Top hame strap                         A  hd_hame_strap_top
Bottom hame strap/fastener             A  hd_hame_strap_bottom
Hame tug, bolt, clip                   B  hd_hame_tug
Tug (leather)                          B  hd_tug
Trace chain                            B  hd_trace_chain
Belly band                             B  hd_belly_band
Back pad/market strap                  C  hd_back_pad
Trace carriers, lazy straps            C  hd_trace_carriers
Back, hip straps                       C  hd_back_straps
Crupper                                C  hd_cruppers
Breeching seat                         A  hd_breeching
Quarter (side) straps                  A  hd_quarter_straps
Pole strap (martingale)                A  hd_pole_straps
Breast strap, slide, snaps             A  hd_breast_straps
Choke strap                            C  hd_choke_strap
Neck yoke, centre ring/plug            A  hd_neck_yoke
Tongue end, stop                       A  hd_pole_stop
Evener, pin/hammer                     A  hd_evener
Singletrees, clevises                  B  hd_singletrees
Stay chains                            C  hd_stay_chains
Lead bars, lead chain                  B  hd_lead_bars
Spreader bar                           C  hd_spreader
Brake lever, rod, shoes; lock chain    A  hd_brake
"""


def read_table(text: str) -> dict[str, dict[str, list[str]]]:
    """Return the rigs of each row, as facts with the values they may have."""
    table: dict[str, dict[str, list[str]]] = {}
    for line in text.strip().splitlines()[1:]:
        row, rigs, source = line.split(None, 2)
        facts = dict(part.split("=") for part in rigs.split(","))
        assert source and row not in table
        assert all(set(v.split("|")) < set(FACTS[f]) for f, v in facts.items()), line
        table[row] = {fact: values.split("|") for fact, values in facts.items()}
    return table


TABLES = {"wagon_harness_camp": CAMP_TABLE, "harness_in_depth": DEPTH_TABLE}


def card(code: str) -> CardFile:
    return read_card_file(library_cards()[code], library_cards(), parts=handbook())


@cache
def rows_of(code: str) -> dict[str, Any]:
    return {row.code: row for section in card(code).sections for row in section.criteria}


def shown(code: str, rig: dict[str, str]) -> set[str]:
    """The rows of a card that this rig shows, by the service's own rule."""
    return {name for name, row in rows_of(code).items() if applies(row.applies, rig)}


def rigs_where(**facts: str) -> list[dict[str, str]]:
    return [rig for rig in RIGS if all(rig[fact] == value for fact, value in facts.items())]


@pytest.mark.parametrize("code", TABLES)
def test_every_row_of_the_table_is_on_the_card(code: str):
    assert read_table(TABLES[code]).keys() <= rows_of(code).keys()


@pytest.mark.parametrize("code", TABLES)
def test_every_rig_shows_what_the_table_says_and_all_other_rows(code: str):
    table, names = read_table(TABLES[code]), set(rows_of(code))
    assert len(RIGS) == 48
    for rig in RIGS:
        absent = {
            row
            for row, facts in table.items()
            if any(rig[fact] not in values for fact, values in facts.items())
        }
        assert shown(code, rig) == names - absent, rig


# --- The rig table's sentences, one by one --------------------------------------------------


@pytest.mark.parametrize(("code", "p"), [("wagon_harness_camp", "hn"), ("harness_in_depth", "hd")])
class TestSentences:
    def test_a_stiff_tongue_shows_no_neck_yoke_row(self, code: str, p: str):
        for rig in rigs_where(tongue="stiff"):
            rows = shown(code, rig)
            assert not {f"{p}_neck_yoke", f"{p}_breast_straps"} & rows
            assert not {n for n in rows if "neck_yoke" in rows_of(code)[n].parts}
            assert f"{p}_pole_stop" in rows

    def test_a_drop_tongue_shows_breast_straps_yoke_and_queen_bolt(self, code: str, p: str):
        for rig in rigs_where(tongue="drop"):
            rows = shown(code, rig)
            assert {f"{p}_neck_yoke", f"{p}_breast_straps"} <= rows
            assert [n for n in rows if "queen_bolt" in rows_of(code)[n].parts]
            assert f"{p}_pole_stop" not in rows

    def test_breeching_is_the_wheelers_at_every_hitch(self, code: str, p: str):
        rows = rows_of(code)
        with_it = [name for name, row in rows.items() if "breeching" in row.parts]
        assert with_it == [f"{p}_breeching"]
        assert "heelers" in rows[f"{p}_breeching"].name + rows[f"{p}_breeching"].guidance
        assert not rows[f"{p}_breeching"].applies
        leaders = [r for r in rows.values() if "hitch" in dict(r.applies)]
        assert len(leaders) >= 4
        assert all("breeching" not in row.parts for row in leaders)

    def test_a_team_of_two_has_no_leaders_row(self, code: str, p: str):
        lead_parts = {"lead_lines", "lead_bars", "lead_chain", "swing_gear", "crupper"}
        for rig in rigs_where(hitch="team"):
            for name in shown(code, rig):
                assert not lead_parts & set(rows_of(code)[name].parts), name

    def test_chains_show_hooks_and_toggles_and_no_cockeye(self, code: str, p: str):
        for draft, there, gone in (
            ("chain", {"trace_chain", "chain_toggle", "chain_pipe"}, {"cockeye", "tug"}),
            ("leather", {"cockeye", "tug"}, {"trace_chain", "chain_toggle", "chain_pipe"}),
        ):
            for rig in rigs_where(draft=draft):
                seen = {part for n in shown(code, rig) for part in rows_of(code)[n].parts}
                assert there <= seen and not gone & seen

    def test_a_side_backer_has_no_pole_or_quarter_straps(self, code: str, p: str):
        belly = {"pole_strap", "quarter_straps", "martingale", "choke_strap"}
        for rig in rigs_where(holdback="side_backer"):
            seen = {part for n in shown(code, rig) for part in rows_of(code)[n].parts}
            assert not belly & seen
            assert {"side_straps", "jockey_yoke"} <= seen

    def test_the_military_pattern(self, code: str, p: str):
        for rig in rigs_where(pattern="military"):
            seen = {part for n in shown(code, rig) for part in rows_of(code)[n].parts}
            assert {"locking_collar", "trace_toggle"} <= seen
            assert not {"hame_strap_top", "hame_strap_bottom", "hame_tug", "pole_strap"} & seen
            assert ("martingale" in seen) == (rig["holdback"] == "pole_strap")

    def test_no_row_names_a_part_that_its_rig_does_not_have(self, code: str, p: str):
        for rig in RIGS:
            for name in shown(code, rig):
                for part in rows_of(code)[name].parts:
                    assert applies(handbook()[part].rigs, rig), (name, part, rig)


def test_hounds_are_scored_on_a_stiff_tongue():
    for rig in RIGS:
        stiff = rig["tongue"] == "stiff"
        assert ("rg_stiff_hounds" in shown("wagon_harness_camp", rig)) == stiff
        assert ("hd_hounds" in shown("harness_in_depth", rig)) == stiff


# --- The harness table ----------------------------------------------------------------------


def harness_rows() -> dict[str, str]:
    """The danger letter of each row, as the table has it."""
    lines = [line.rsplit(None, 2)[1:] for line in HARNESS_ROWS.strip().splitlines()]
    return {row: letter for letter, row in lines}


def test_every_line_of_the_harness_table_has_its_row_and_letter():
    rows = rows_of("harness_in_depth")
    assert len(harness_rows()) == len(HARNESS_ROWS.strip().splitlines()) == 33
    assert {row: rows[row].danger for row in harness_rows()} == harness_rows()


@pytest.mark.parametrize("code", TABLES)
def test_of_rows_that_stand_in_for_each_other_one_is_there_on_every_rig(code: str):
    groups: dict[str, list[str]] = {}
    for name, row in rows_of(code).items():
        if row.one_of:
            groups.setdefault(row.one_of, []).append(name)
    assert len(groups) >= 5
    for group, names in groups.items():
        for rig in RIGS:
            assert len(set(names) & shown(code, rig)) == 1, (group, rig)

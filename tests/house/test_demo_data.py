"""The demonstration files agree with each other and with the rules of the rig rows."""

import csv
import itertools
import re
from collections import Counter
from collections.abc import Hashable, Iterator
from datetime import date, datetime
from pathlib import Path
from typing import Any

import pytest
import yaml

ROOT = Path(__file__).resolve().parents[2]
FOLDER = ROOT / "fixtures_demo"
CARDS = ROOT / "judging" / "library" / "cards"

RIG_FACTS = {
    "tongue": ["drop", "stiff"],
    "hitch": ["team", "four_up", "six_up"],
    "draft": ["leather", "chain"],
    "pattern": ["civil", "military"],
    "holdback": ["pole_strap", "side_backer"],
}
COMBINATIONS = itertools.product(*RIG_FACTS.values())
RIGS = [dict(zip(RIG_FACTS, values, strict=True)) for values in COMBINATIONS]
SECTIONS = {
    "running_gear": (25, 4),
    "wagon_box": (25, 4),
    "camp_kit": (20, 3),
    "harness": (20, 5),
    "crew_sound": (10, 2),
}
DEFERS = "raise a safety concern; the mark does not replace it"
CODE = re.compile(r"[a-z][a-z0-9_]*")
Data = dict[str, Any]


class StrictLoader(yaml.CSafeLoader):
    """Safe loader that refuses a key written twice, which plain YAML silently drops."""


def _mapping(loader: StrictLoader, node: yaml.MappingNode) -> dict[Hashable, Any]:
    """Build one mapping, refusing double keys."""
    keys = [loader.construct_object(key) for key, _ in node.value]
    twice = [key for key, n in Counter(keys).items() if n > 1]
    if twice:
        raise yaml.YAMLError(f"written twice: {twice} near line {node.start_mark.line + 1}")
    return loader.construct_mapping(node, deep=True)


StrictLoader.add_constructor("tag:yaml.org,2002:map", _mapping)


def _read(name: str, folder: Path = FOLDER) -> Data:
    """Read one YAML file of the folder."""
    data = yaml.load((folder / name).read_text(encoding="utf-8"), Loader=StrictLoader)
    assert isinstance(data, dict)
    return data


SHOW = _read("show.yaml")
CARD = _read(f"{SHOW['show']['scorecard']}.yaml", CARDS)
STORY = _read("story.yaml")
CRITERIA: dict[str, Data] = {
    row["code"]: row | {"section": section["code"]}
    for section in CARD["sections"]
    for row in section["criteria"]
}
JUDGES: dict[str, Data] = {judge["code"]: judge for judge in SHOW["people"]["judges"]}
ENTRIES: dict[int, Data] = {entry["number"]: entry for entry in SHOW["entries"]}
ALL_ENTRIES = SHOW["entries"] + SHOW["over_the_cap"]
CONFLICTS = {(row["judge"], row["entry"]) for row in SHOW["conflicts"]}
RIG_IDS = ["-".join(rig.values()) for rig in RIGS]


def _marks() -> dict[tuple[int, str], dict[str, int]]:
    """Read the marks as (entry, judge) -> criterion -> mark."""
    with (FOLDER / "marks.csv").open(encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file))
    keys = [(int(row["entry"]), row["judge"]) for row in rows]
    assert len(keys) == len(set(keys)), "an entry and judge with two rows"
    return {
        key: {code: int(mark) for code, mark in row.items() if code not in ("entry", "judge")}
        for key, row in zip(keys, rows, strict=True)
    }


def _shown(rig: dict[str, str], section: str = "harness") -> set[str]:
    """Name the criteria of a section that apply to a rig."""
    return {
        code
        for code, row in CRITERIA.items()
        if row["section"] == section
        and all(rig[fact] in values for fact, values in row.get("applies", {}).items())
    }


def _free_judges(number: int, section: str) -> list[str]:
    """Name the qualified judges without a conflict for one entry and section."""
    return [
        code
        for code, judge in JUDGES.items()
        if section in judge["sections"] and (code, number) not in CONFLICTS
    ]


def _twice(values: Iterator[Any]) -> list[Any]:
    """List what occurs more than once."""
    return [value for value, n in Counter(values).items() if n > 1]


def test_sections_points_and_minutes() -> None:
    found = {row["code"]: (row["points"], row["minutes"]) for row in CARD["sections"]}
    assert found == SECTIONS
    assert list(found) == list(SECTIONS), "the order of the card"
    assert sum(points for points, _ in found.values()) == 100


def test_criteria_count_and_unique_codes() -> None:
    rows = [row for section in CARD["sections"] for row in section["criteria"]]
    assert not _twice(row["code"] for row in rows)
    assert not _twice(row["name"] for row in rows)
    assert 45 <= len(rows) <= 55
    assert sum(row["section"] == "harness" for row in CRITERIA.values()) >= 20


@pytest.mark.parametrize("code", CRITERIA)
def test_one_criterion(code: str) -> None:
    row = CRITERIA[code]
    assert CODE.fullmatch(code)
    known = {"code", "name", "max_mark", "step", "weight", "danger", "applies", "guidance"}
    known |= {"parts", "one_of"}
    assert set(row) - {"section"} <= known, "a key nobody reads"
    assert len(row["name"]) <= 38, "one line of a phone"
    assert (row["max_mark"], row["step"]) == (10, 1)
    assert row["weight"] in (1, 2)
    assert 40 <= len(row["guidance"]) <= 250
    assert len(re.findall(r"\.(?:\s|$)", row["guidance"])) <= 2, "two short sentences"
    for fact, values in row.get("applies", {}).items():
        assert values and set(values) < set(RIG_FACTS[fact]), "all values = leave the fact out"


@pytest.mark.parametrize("code", CRITERIA)
def test_danger_letters_and_deferring_guidance(code: str) -> None:
    row = CRITERIA[code]
    if row["section"] in ("harness", "running_gear"):
        assert row["danger"] in ("A", "B", "C")
    assert row.get("danger", "C") in ("A", "B", "C")
    assert (row.get("danger") == "A") == (DEFERS in row["guidance"])


@pytest.mark.parametrize("section", CARD["sections"], ids=lambda section: section["code"])
def test_quick_phrases(section: Data) -> None:
    phrases = section["quick_phrases"]
    assert 6 <= len(phrases) <= 8
    assert not _twice(iter(phrases))
    assert all(isinstance(text, str) and len(text) <= 40 for text in phrases)


def test_declared_rig_facts() -> None:
    assert CARD["rig_facts"] == RIG_FACTS
    assert len(RIGS) == 48


@pytest.mark.parametrize("rig", RIGS, ids=RIG_IDS)
def test_every_rig_has_enough_rows_everywhere(rig: dict[str, str]) -> None:
    assert len(_shown(rig)) >= 8
    assert all(len(_shown(rig, section)) >= 4 for section in SECTIONS)


@pytest.mark.parametrize("rig", RIGS, ids=RIG_IDS)
def test_tongue_rows(rig: dict[str, str]) -> None:
    rows = _shown(rig) | _shown(rig, "running_gear")
    drop = {"hn_breast_straps", "hn_neck_yoke", "rg_queen_bolt"}
    stiff = {"hn_pole_stop", "rg_stiff_hounds"}
    assert rows & (drop | stiff) == (drop if rig["tongue"] == "drop" else stiff)


@pytest.mark.parametrize("rig", RIGS, ids=RIG_IDS)
def test_leaders_rows(rig: dict[str, str]) -> None:
    leaders = {"hn_lead_lines", "hn_lead_bars", "hn_lead_cruppers"}
    swing = {"hn_swing_pair"}
    wanted = {"team": set(), "four_up": leaders, "six_up": leaders | swing}[rig["hitch"]]
    assert _shown(rig) & (leaders | swing) == wanted
    breeching = [code for code in _shown(rig) if "breeching" in code]
    assert breeching == ["hn_breeching"], "wheelers' breeching for every rig, no other"


@pytest.mark.parametrize("rig", RIGS, ids=RIG_IDS)
def test_draft_and_pattern_rows(rig: dict[str, str]) -> None:
    rows = {
        "chain": {"hn_chain_hooks", "hn_chain_pipes", "hn_chain_toggles"},
        "leather": {"hn_tugs", "hn_cockeyes"},
        "civil": {"hn_hame_strap_top", "hn_hame_strap_bottom"},
        "military": {"hn_locking_collar", "hn_mil_traces"},
    }
    for value, codes in rows.items():
        assert _shown(rig) & codes == (codes if value in rig.values() else set())


@pytest.mark.parametrize("rig", RIGS, ids=RIG_IDS)
def test_holdback_rows(rig: dict[str, str]) -> None:
    holdback = {"hn_pole_straps", "hn_martingale", "hn_quarter_straps", "hn_side_straps"}
    if rig["holdback"] == "side_backer":
        wanted = {"hn_side_straps"}
    else:
        # A martingale is the army's pole strap: one of the two, never both.
        strap = "hn_martingale" if rig["pattern"] == "military" else "hn_pole_straps"
        wanted = {strap, "hn_quarter_straps"}
    assert _shown(rig) & holdback == wanted


def test_days_and_judging_window() -> None:
    show = SHOW["show"]
    assert (show["starts_on"], show["ends_on"]) == (date(2027, 5, 14), date(2027, 5, 16))
    start = datetime.fromisoformat(show["judging_starts"])
    end = datetime.fromisoformat(show["judging_ends"])
    assert start == datetime(2027, 5, 15, 8) and start < end
    assert start.strftime("%A") == "Saturday"
    assert (show["scorecard"], show["scorecard_version"]) == (CARD["code"], CARD["version"])
    assert set(show["cautions"]) == {"animals", "fire", "food"}


def test_money_is_whole_cents() -> None:
    fees = SHOW["show"]["fees"]
    cents = [value for key, value in fees.items() if key.endswith("_cents")]
    assert cents and all(type(value) is int and value > 0 for value in cents)
    steps = [(row["days_before"], row["percent"]) for row in fees["refunds"]]
    assert steps == sorted(steps, reverse=True) and steps[-1][0] == 0


def test_entries_fill_the_show_and_one_waits() -> None:
    assert list(ENTRIES) == list(range(1, SHOW["show"]["entry_cap"] + 1))
    assert len(SHOW["entries"]) == 15 and len(SHOW["over_the_cap"]) == 1
    assert not {"number", "camp_spot"} & set(SHOW["over_the_cap"][0])


def test_names_are_unique() -> None:
    people = [row["name"] for group in SHOW["people"].values() for row in group]
    people += [member["name"] for entry in ALL_ENTRIES for member in entry["crew"]]
    assert not _twice(iter(people))
    for key in ("wagon", "outfit", "head_cook", "exhibitor_email", "history"):
        assert not _twice(entry[key] for entry in ALL_ENTRIES), key
    assert any(not name.isascii() for name in people), "an accent for the print checks"
    assert max(len(entry["wagon"]) for entry in ALL_ENTRIES) >= 60, "a long name as well"


def test_mail_goes_to_the_reserved_domain() -> None:
    mail = [row["email"] for group in SHOW["people"].values() for row in group]
    mail += [entry["exhibitor_email"] for entry in ALL_ENTRIES]
    assert not _twice(iter(mail))
    assert all(re.fullmatch(r"[a-z.]+@showrun\.example", address) for address in mail)


def test_camp_spots() -> None:
    spots = {spot["number"]: spot for spot in SHOW["camp"]["spots"]}
    assert list(spots) == list(range(1, 16))
    assert sorted(entry["camp_spot"] for entry in ENTRIES.values()) == list(spots)
    for entry in ENTRIES.values():
        assert 0 < entry["frontage_ft"] <= spots[entry["camp_spot"]]["frontage_ft"]
    for a, b in itertools.combinations(spots.values(), 2):
        if a["y_ft"] == b["y_ft"]:
            needed = (a["frontage_ft"] + b["frontage_ft"]) / 2
            assert abs(a["x_ft"] - b["x_ft"]) >= needed, "two spots overlap"
    assert len({spot["y_ft"] for spot in spots.values()}) == 2, "two rows facing a lane"


def test_classes_and_their_ladders() -> None:
    classes = {row["code"]: row for row in SHOW["classes"]}
    assert {code: row["method"] for code, row in classes.items()} == {
        "trail": "plain",
        "ranch": "plain",
        "working_harness": "judge_adjusted",
    }
    for row in classes.values():
        assert set(row["sections"]) <= set(SECTIONS)
        # With equal totals the last of all sections is already settled.
        assert set(row["tie_ladder"]) < set(row["sections"])
        assert not _twice(iter(row["tie_ladder"]))
        assert row["judges_per_section"] == 3
    sizes = Counter(code for entry in ENTRIES.values() for code in entry["classes"])
    assert sizes == {"trail": 8, "ranch": 7, "working_harness": 13}
    for entry in ALL_ENTRIES:
        assert len({"trail", "ranch"} & set(entry["classes"])) == 1


@pytest.mark.parametrize("entry", ALL_ENTRIES, ids=lambda entry: entry["wagon"])
def test_rig_and_crew_of_an_entry(entry: Data) -> None:
    assert set(entry["rig"]) == set(RIG_FACTS)
    assert all(value in RIG_FACTS[fact] for fact, value in entry["rig"].items())
    roles = [member["role"] for member in entry["crew"]]
    assert roles[0] == "head_cook" and roles.count("head_cook") == 1
    assert set(roles) <= {"head_cook", "cook", "helper"} and 3 <= len(roles) <= 4
    assert entry["crew"][0]["name"] == entry["head_cook"]


def test_rigs_are_mixed() -> None:
    rigs = [entry["rig"] for entry in ENTRIES.values()]
    seen = Counter(value for rig in rigs for value in rig.values())
    assert set(seen) == {value for values in RIG_FACTS.values() for value in values}
    assert seen["six_up"] >= 2 and seen["four_up"] >= 3
    assert seen["side_backer"] >= 3 and seen["stiff"] >= 6
    military = [rig for rig in rigs if rig["pattern"] == "military"]
    assert len(military) >= 3
    assert all(rig["draft"] == "chain" for rig in military), "army trace chains"
    assert len({frozenset(_shown(rig)) for rig in rigs}) >= 10, "cards really differ"


def test_judges_and_conflicts() -> None:
    assert len(JUDGES) == 5 == len(SHOW["people"]["judges"])
    for judge in JUDGES.values():
        assert set(judge["sections"]) <= set(SECTIONS) and len(judge["sections"]) >= 4
        assert judge["seniority"] in ("senior", "regular")
    assert len(CONFLICTS) == len(SHOW["conflicts"]) >= 3
    for row in SHOW["conflicts"]:
        assert row["judge"] in JUDGES and row["entry"] in ENTRIES
        assert row["kind"] in ("kin", "same_stable", "sold_gear", "crew")
        assert row["reason"].endswith(".") and "\n" not in row["reason"]
    assert [row["role"] for row in SHOW["people"]["office"]] == ["show_secretary", "steward"]


@pytest.mark.parametrize("section", SECTIONS)
@pytest.mark.parametrize("number", ENTRIES)
def test_a_panel_of_three_can_be_drawn(number: int, section: str) -> None:
    assert len(_free_judges(number, section)) >= 3


def test_marks_are_complete_and_in_range() -> None:
    marks = _marks()
    assert set(marks) == set(itertools.product(ENTRIES, JUDGES))
    for row in marks.values():
        assert list(row) == list(CRITERIA), "the columns follow the scorecard"
        assert all(0 <= mark <= CRITERIA[code]["max_mark"] for code, mark in row.items())


def test_marks_are_not_all_alike() -> None:
    marks = _marks()
    for code in CRITERIA:
        assert len({row[code] for row in marks.values()}) >= 4, code
    means = [sum(marks[key].values()) / len(CRITERIA) for key in marks]
    assert 6 < sum(means) / len(means) < 8


def test_late_card_and_slip() -> None:
    late, slip = STORY["missing_card"], STORY["slip"]
    assert late["judge"] in JUDGES and late["entry"] in ENTRIES
    assert (late["judge"], late["entry"]) not in CONFLICTS
    row = CRITERIA[slip["criterion"]]
    assert row["section"] == slip["section"] and "applies" not in row
    assert slip["section"] in JUDGES[slip["judge"]]["sections"]
    own = [m[slip["criterion"]] for (_, judge), m in _marks().items() if judge == slip["judge"]]
    assert sum(mark >= 8 for mark in own) >= 12, "the slip must stand out wherever it falls"
    assert slip["written"] == 1 and slip["answer"] in ("confirm", "correct")


def test_concerns() -> None:
    assert [row["level"] for row in STORY["concerns"]] == ["mend", "note"]
    offices = {row["code"] for row in SHOW["people"]["office"]}
    for row in STORY["concerns"]:
        assert row["section"] in JUDGES[row["judge"]]["sections"]
        assert CRITERIA[row["criterion"]]["section"] == row["section"]
        assert "applies" not in CRITERIA[row["criterion"]], "must exist on any rig"
        assert row["closed_by"] in offices and row["nth_seat"] >= 1
    letters = [CRITERIA[row["criterion"]].get("danger", "C") for row in STORY["concerns"]]
    assert letters[0] in ("A", "B")


def test_batch_oddities() -> None:
    oddities = {row["kind"]: row for row in STORY["batches"]["oddities"]}
    assert list(oddities) == ["repeated", "reversed", "bad_event"]
    assert all(row["judge"] in JUDGES and row["batch"] >= 1 for row in oddities.values())
    assert len({(row["judge"], row["batch"]) for row in oddities.values()}) == 3
    assert oddities["repeated"]["times"] >= 2
    assert oddities["bad_event"]["mark"] > 10
    assert 1 < oddities["bad_event"]["position"] <= STORY["batches"]["size"]


@pytest.mark.parametrize("judge", JUDGES)
def test_remarks(judge: str) -> None:
    sections = STORY["remarks"][judge]
    assert set(sections) == set(JUDGES[judge]["sections"])
    texts = [text for rows in sections.values() for text in rows]
    assert 8 <= len(texts) <= 10
    assert all(isinstance(text, str) and len(text) <= 80 for text in texts)


def test_remarks_are_unique_and_only_of_judges() -> None:
    assert set(STORY["remarks"]) == set(JUDGES)
    assert not _twice(
        text for rows in STORY["remarks"].values() for texts in rows.values() for text in texts
    )


def test_a_key_written_twice_is_refused() -> None:
    with pytest.raises(yaml.YAMLError, match="written twice"):
        yaml.load("a: 1\na: 2\n", Loader=StrictLoader)

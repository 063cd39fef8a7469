"""The show from entry to award sheet, and its results computed again from the raw touches.

The recomputation shares nothing with the service but the scorecard's plain data: it reads
what phones sent, replays it, and works the totals out with its own arithmetic.
"""

from __future__ import annotations

import csv
import json
import os
import subprocess
import sys
from collections import defaultdict
from decimal import ROUND_HALF_UP, Decimal
from fractions import Fraction
from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest
import yaml
from pypdf import PdfReader

# Its workers give way to whatever else is tested at the same time.
pytestmark = pytest.mark.timeout(1_200)

ROOT = Path(__file__).resolve().parents[2]
DEMO = ROOT / "fixtures_demo"
CARDS = ROOT / "judging" / "library" / "cards"


@pytest.fixture(scope="module")
def run(tmp_path_factory):
    out = tmp_path_factory.mktemp("run")
    env = {
        key: value
        for key, value in os.environ.items()
        if key not in ("DATABASE_URL", "BROKER_URL", "DJANGO_SETTINGS_MODULE", "SHOWRUN_DATA")
    }
    done = subprocess.run(
        [sys.executable, str(ROOT / "manage.py"), "demo", "--run-once", "--out", str(out)],
        capture_output=True,
        text=True,
        check=False,
        timeout=1_100,
        env=env,
    )
    assert done.returncode == 0, f"{done.stdout[-3000:]}\n{done.stderr[-3000:]}"
    return out, done.stdout


@pytest.fixture(scope="module")
def results(run):
    return json.loads((run[0] / "results.json").read_text())


@pytest.fixture(scope="module")
def touches(run):
    return [json.loads(line) for line in (run[0] / "events.jsonl").read_text().splitlines()]


@pytest.fixture(scope="module")
def plan():
    show = yaml.safe_load((DEMO / "show.yaml").read_text())
    card = yaml.safe_load((CARDS / f"{show['show']['scorecard']}.yaml").read_text())
    return show, {section["code"]: section for section in card["sections"]}


def replay(touches, answers):
    """The marks as they stand: (judge, entry id, criterion) -> number."""
    marks = {}
    for touch in sorted(touches, key=lambda t: (t["judge"], t["seq"])):
        if touch["kind"] == "mark" and touch["outcome"]["code"] == "":
            marks[touch["judge"], touch["entry"], touch["criterion"]] = Fraction(touch["value"])
    for question in answers:
        if question["answer"]["verdict"] == "correct":
            key = question["judge"], question["entry"], question["criterion"]
            assert marks[key] == Fraction(question["value"])
            marks[key] = Fraction(question["answer"]["value"])
    return marks


def practice(touches):
    """The practice wagon: the first that was marked, before the round began."""
    marked = [touch["entry"] for touch in touches if touch["kind"] == "mark"]
    assert marked.count(marked[0]) > 100  # by all five judges, in all their sections
    return marked[0]


def hundredths(value):
    exact = Decimal(value.numerator) / Decimal(value.denominator)
    return exact.quantize(Decimal("0.01"), rounding=ROUND_HALF_UP)


def points_by_seat(marks, sections, rigs, number_of):
    """(entry number, section, judge) -> points."""
    given: dict[tuple[str, int], dict[str, Fraction]] = defaultdict(dict)
    for (judge, entry, criterion), value in marks.items():
        given[judge, number_of[entry]][criterion] = value
    points = {}
    for (judge, number), card in given.items():
        for code, section in sections.items():
            rows = [
                row
                for row in section["criteria"]
                if all(rigs[number][f] in v for f, v in row.get("applies", {}).items())
            ]
            if not any(row["code"] in card for row in rows):
                continue
            possible = sum(row["weight"] * row["max_mark"] for row in rows)
            got = sum(row["weight"] * card[row["code"]] for row in rows)
            points[number, code, judge] = hundredths(section["points"] * got / Fraction(possible))
    return points


def additive_means(cells):
    """Least squares of score on entry and judge; entry mean at the average judge."""
    entries = sorted({e for e, _ in cells})
    judges = sorted({j for _, j in cells})
    design = np.zeros((len(cells), len(entries) + len(judges)))
    score = np.zeros(len(cells))
    for row, ((entry, judge), value) in enumerate(cells.items()):
        design[row, entries.index(entry)] = 1
        design[row, len(entries) + judges.index(judge)] = 1
        score[row] = float(value)
    solution = np.linalg.lstsq(design, score, rcond=None)[0]
    judge_mean = solution[len(entries) :].mean()
    return {entry: solution[k] + judge_mean for k, entry in enumerate(entries)}


def test_results_agree_with_a_recomputation_from_the_raw_touches(results, touches, plan):
    show, sections = plan
    # The practice wagon is no entry and has no result.
    entry_ids = sorted({t["entry"] for t in touches if t["kind"] == "mark"} - {practice(touches)})
    numbers = [line["number"] for line in show["entries"]]
    number_of = dict(zip(entry_ids, sorted(numbers), strict=True))
    rigs = {line["number"]: line["rig"] for line in show["entries"]}
    counted = [touch for touch in touches if touch.get("entry") != practice(touches)]
    marks = replay(counted, results["questions"])
    points = points_by_seat(marks, sections, rigs, number_of)
    assert len(points) == 225

    for declared in show["classes"]:
        result = results["results"][declared["code"]]
        members = [e["number"] for e in show["entries"] if declared["code"] in e["classes"]]
        totals = {}
        for number in members:
            totals[number] = sum(
                (
                    v
                    for (n, code, _), v in points.items()
                    if n == number and code in declared["sections"]
                ),
                Decimal(0),
            )
        if declared["method"] == "judge_adjusted":
            adjusted = dict.fromkeys(members, Decimal(0))
            for code in declared["sections"]:
                cells = {
                    (n, judge): v
                    for (n, c, judge), v in points.items()
                    if c == code and n in members
                }
                for number, mean in additive_means(cells).items():
                    adjusted[number] += Decimal(f"{3 * mean:.9f}").quantize(
                        Decimal("0.01"), rounding=ROUND_HALF_UP
                    )
            assert adjusted != totals
            totals = adjusted
        published = {p["entry"]: Decimal(p["total"]) for p in result["placings"]}
        assert published == totals, declared["code"]
        for placing in result["placings"]:
            better = sum(total > totals[placing["entry"]] for total in totals.values())
            assert placing["place"] == better + 1


def test_every_touch_counts_once_and_the_bad_one_is_kept(results, touches):
    outcomes = results["events"]["outcomes"]
    assert results["events"]["sent"] == len(touches) == sum(outcomes.values())
    ids = [t["id"] for t in touches]
    assert outcomes["duplicate"] == len(ids) - len(set(ids)) > 0
    held = [t for t in touches if t["outcome"]["status"] == "held"]
    assert [t["outcome"]["code"] for t in held] == ["mark-over-maximum"]
    assert held[0]["value"] == "11"


def test_the_slip_and_only_the_slip_was_corrected(results):
    story = yaml.safe_load((DEMO / "story.yaml").read_text())["slip"]
    with (DEMO / "marks.csv").open(newline="") as file:
        meant = {(int(r["entry"]), r["judge"]): r[story["criterion"]] for r in csv.DictReader(file)}
    corrected = [q for q in results["questions"] if q["answer"]["verdict"] == "correct"]
    assert len(corrected) == 1
    assert corrected[0]["judge"] == story["judge"]
    assert corrected[0]["criterion"] == story["criterion"]
    assert corrected[0]["answer"]["value"] in meant.values()


def test_no_judge_met_an_entry_in_conflict_and_no_two_met_at_a_wagon(run, plan):
    show, _ = plan
    timetable = json.loads((run[0] / "timetable.json").read_text())
    visits = timetable["visits"]
    pairs = {(v["judge"], v["entry"]) for v in visits}
    assert not pairs & {(c["judge"], c["entry"]) for c in show["conflicts"]}
    for who in ("judge", "entry"):
        by = defaultdict(list)
        for visit in visits:
            by[visit[who]].append((visit["starts_at"], visit["ends_at"]))
        for spans in by.values():
            spans.sort()
            assert all(a[1] <= b[0] for a, b in pairwise(spans))
    assert timetable["needed_minutes"] <= timetable["available_minutes"]


def test_every_placed_entry_has_its_sheets_and_every_class_its_papers(run, results, plan):
    show, _ = plan
    papers = {path.name for path in (run[0] / "papers").glob("*.pdf")}
    expected = set()
    for declared in show["classes"]:
        expected |= {f"{kind}-{declared['code']}.pdf" for kind in ("record", "calls")}
        if declared.get("purse"):
            expected.add(f"purse-{declared['code']}.pdf")
        for placing in results["results"][declared["code"]]["placings"]:
            expected.add(f"feedback-{declared['code']}-{placing['entry']:02d}.pdf")
            if placing["place"] <= declared["places"]:
                expected.add(f"award-{declared['code']}-{placing['entry']:02d}.pdf")
    assert papers == expected
    winner = results["results"]["trail"]["placings"][0]
    text = "".join(
        page.extract_text()
        for page in PdfReader(run[0] / "papers" / f"feedback-trail-{winner['entry']:02d}.pdf").pages
    )
    assert winner["total"] in text
    assert winner["wagon_name"].split()[0] in text


def test_a_rig_found_different_was_settled_and_left_no_trace_in_the_result(touches):
    story = yaml.safe_load((DEMO / "story.yaml").read_text())["rig_at_wagon"]
    found = [touch for touch in touches if touch["kind"] == "rig"]
    assert [(touch["judge"], touch["outcome"]["status"]) for touch in found] == [
        (story["judge"], "applied")
    ]
    here = [
        t for t in touches if (t["judge"], t.get("entry")) == (story["judge"], found[0]["entry"])
    ]
    marked = {t["criterion"] for t in here if t["kind"] == "mark"}
    # Rows of both rigs were marked on this one card; which count is decided by the settled rig.
    assert {"hn_tugs", "hn_cockeyes", "hn_chain_hooks", "hn_chain_pipes"} <= marked
    assert sum(t["kind"] == "hand_in" for t in here) == 2


def test_progress_is_shown(run):
    for word in (
        "practice wagon",
        "settled",
        "confirmed",
        "panel drawn",
        "window",
        "paired",
        "incomplete",
        "released",
        "papers",
        "the results of 3 classes are those that the events give",
    ):
        assert word in run[1]

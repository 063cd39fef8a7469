"""A small show beside the invented one: three rigs, every form of section, a practice wagon.

`SmallShow.prepare` builds it in the service's own database by its real actions, each run in a
process of the service. Every judge looks at every section of every wagon.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import date
from functools import cached_property
from typing import Any

from showrun.project.demo.drive import Person
from tests.live import LiveShow

SLUG = "small-kettle"
JUDGES = 6

ROW = {"max_mark": 10, "step": 1}
TICK = {"max_mark": 1, "step": 1}
CARD: dict[str, Any] = {
    "name": "Wagon, fire and story",
    "version": 1,
    "notice": "A score is not a safety inspection. Stop orders come first.",
    "sections": [
        {
            "code": "running_gear",
            "name": "Running gear",
            "points": 40,
            "minutes": 3,
            "quick_phrases": ["Tight and true"],
            "criteria": [
                {"code": "wheels", "name": "Spokes and felloes", **ROW, "danger": "B",
                 "guidance": "Tight joints earn the top."},
                {"code": "queen_bolt", "name": "Queen bolt", **ROW, "danger": "A",
                 "applies": {"tongue": ["drop"]}},
                {"code": "stiff_hounds", "name": "Hounds of the stiff tongue", **ROW,
                 "applies": {"tongue": ["stiff"]}},
            ],
        },
        {
            "code": "harness",
            "name": "Harness",
            "points": 40,
            "minutes": 3,
            "criteria": [
                {"code": "collar", "name": "Collar and hames", **ROW, "danger": "B",
                 "parts": ["collar", "hames"]},
                {"code": "leaders", "name": "Leaders' lines", **ROW, "parts": ["lead_lines"],
                 "applies": {"hitch": ["four_up", "six_up"]}},
                {"code": "pole_strap", "name": "Pole strap", **ROW,
                 "applies": {"holdback": ["pole_strap"]}},
            ],
        },
        {
            "code": "fire",
            "name": "Fire and water",
            "points": 20,
            "minutes": 1,
            "form": "pass_fail",
            "all_or_nothing": True,
            "criteria": [
                {"code": "bucket", "name": "Water bucket full", **TICK},
                {"code": "shovel", "name": "Shovel at hand", **TICK},
            ],
        },
        {
            "code": "story",
            "name": "Story of the wagon",
            "points": 10,
            "minutes": 1,
            "form": "placings",
            "criteria": [
                {"code": "story_place", "name": "Place of the story", "max_mark": 40, "step": 1},
            ],
        },
    ],
}  # fmt: skip


def build(slug: str = SLUG) -> None:
    """Plan the show, declare its classes, engage its judges and open its window."""
    from judging.actions.adopt_scorecard import adopt_scorecard
    from judging.actions.declare_class import declare_class
    from judging.actions.practice import set_up_practice
    from judging.rules.cards.policies import GearCredit, Policies
    from judging.rules.cards.scorecard import NotInspected
    from showrun.shows.actions.plan_show import person_for, plan_show
    from tests import judged_show as stage

    office = person_for(email=f"secretary.{slug}@showrun.example", name="Marguerite Oyelaran")
    show = plan_show(
        slug=slug,
        name="Small Kettle Days",
        ground="Small Kettle Ground",
        starts_on=date(2027, 5, 14),
        ends_on=date(2027, 5, 16),
        judging_starts_at=stage.OPENS_AT,
        judging_minutes=300,
        zone="America/Denver",
        entry_cap=3,
        classes=[
            {"code": "trail", "name": "Trail wagon", "places_awarded": 3},
            {"code": "working_harness", "name": "Best story", "places_awarded": 3},
        ],
        office=office,
        at=stage.BEFORE,
    )
    card = adopt_scorecard(show=show, data=CARD, by=office, at=stage.BEFORE)
    trail = Policies(gear_credit=GearCredit.ORIGINAL_FIRST, period_from=1866, period_to=1895)
    story = Policies(not_inspected=NotInspected.ZERO)
    for code, sections, policies in (
        ("trail", ["running_gear", "harness", "fire"], trail),
        ("working_harness", ["story"], story),
    ):
        declare_class(
            show_class=show.classes.get(code=code),
            scorecard=card,
            sections=sections,
            method="plain",
            judges_per_section=JUDGES,
            policies=policies,
            by=office,
            at=stage.BEFORE,
        )
    stage.add_judges(show, JUDGES)
    stage.add_entries(show, 3)
    stage.draw_panel(show)
    stage.open_window(show)
    set_up_practice(
        show=show, wagon_name="Old Freighter", rig=stage.RIGS[0], by=office, at=stage.BEFORE
    )


def settle(verb: str, judge: str, entry: int, note: str, slug: str = SLUG) -> None:
    """Let the office adopt or decline what a judge found at an entry."""
    from judging.actions import settle_rig
    from judging.models import RigReport
    from showrun.shows.models import Show
    from tests import judged_show as stage

    report = RigReport.objects.get(
        judge__show__slug=slug, judge__code=judge, entry=entry, state=RigReport.State.OPEN
    )
    does = {"adopt": settle_rig.adopt_rig, "decline": settle_rig.decline_rig}[verb]
    does(report=report, note=note, by=stage.office_of(Show.objects.get(slug=slug)), at=stage.AT)


@dataclass
class SmallShow:
    """The small show as a test handles it; it lives in the same service as the large one."""

    live: LiveShow
    slug: str = SLUG
    _judges: dict[str, int] = field(default_factory=dict)

    def _run(self, call: str) -> None:
        source = f"from tests.browser import small_show as here; here.{call}"
        self.live.manage("shell", "--no-imports", "-c", source)

    def prepare(self) -> SmallShow:
        """Build it."""
        self._run(f"build({self.slug!r})")
        return self

    @cached_property
    def office(self) -> Person:
        """Its secretary, signed in."""
        link = self.live.sign_in_link(f"secretary.{self.slug}@showrun.example")
        return Person(self.live.url, link)

    def pairing_link(self, judge: str) -> str:
        """Return the address that pairs whoever opens it with the judge, once."""
        if not self._judges:
            found = self.office.api(f"/shows/{self.slug}/judges")
            self._judges = {one["code"]: one["id"] for one in found}
        pairing = self.office.post(f"/judges/{self._judges[judge]}/pairings", status=201)
        return f"{self.live.url}/round/#pair={pairing['code']}"

    def adopt(self, judge: str, entry: int, note: str = "") -> None:
        """Let the office adopt the rig this judge found."""
        self._run(f"settle('adopt', {judge!r}, {entry}, {note!r})")

    def decline(self, judge: str, entry: int, note: str = "") -> None:
        """Let the office keep the rig as it was entered."""
        self._run(f"settle('decline', {judge!r}, {entry}, {note!r})")

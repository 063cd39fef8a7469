"""A show of fifteen wagons with the fullest starter card, for the walks of judge and exhibitor.

`build`, `judge_all` and `answer` are run in a process of the service, by its real actions.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta

from showrun.project.demo.drive import Person
from tests.live import LiveShow

SLUG = "long-walk"
WAGONS = 15
PLACES = 16


def build(slug: str, wagons: int) -> None:
    """Plan the show with its card, its camp, three judges and so many confirmed wagons."""
    from judging.actions.adopt_scorecard import adopt_from_library
    from judging.actions.declare_class import declare_class
    from showrun.shows.actions.plan_show import give_role, person_for, plan_show
    from showrun.shows.models import Show
    from showrun.shows.rules.access import Role
    from tests import judged_show as stage

    office = person_for(email=f"secretary.{slug}@showrun.example", name="Marguerite Oyelaran")
    show = plan_show(
        slug=slug, name=f"Days of {slug}", ground="Long Walk Ground",
        starts_on=date(2027, 5, 14), ends_on=date(2027, 5, 16), judging_starts_at=stage.OPENS_AT,
        judging_minutes=600, zone="America/Denver", entry_cap=PLACES,
        classes=[{"code": "trail", "name": "Trail wagon"},
                 {"code": "working_harness", "name": "Working harness"}],
        office=office, at=stage.BEFORE,
    )  # fmt: skip
    steward = person_for(email=f"steward.{slug}@showrun.example", name="Tobias Windfeather")
    give_role(show=show, person=steward, role=Role.STEWARD)
    card = adopt_from_library(show=show, code="wagon_harness_camp", by=office, at=stage.BEFORE)
    every = [section.code for section in card.sections.all()]
    for code, sections in (("trail", every), ("working_harness", ["harness"])):
        declare_class(
            show_class=show.classes.get(code=code), scorecard=card, sections=sections,
            method="plain", judges_per_section=3, by=office, at=stage.BEFORE,
        )  # fmt: skip
    stage.add_judges(show, 3)
    stage.add_entries(show, wagons)
    if wagons == WAGONS:
        stage.open_window(show)
    Show.objects.filter(pk=show.pk).update(entry_cap=PLACES)


def seat(slug: str) -> None:
    """Confirm who entered meanwhile, draw the panel and announce the times."""
    from entries.actions.decide_entry import confirm_entered
    from entries.actions.lay_out_camp import lay_out_camp
    from showrun.shows.models import Show
    from tests import judged_show as stage

    show = Show.objects.get(slug=slug)
    more = {"number": PLACES, "x_ft": 900.0, "y_ft": 0.0, "frontage_ft": 50}
    lay_out_camp(show=show, spots=[more])
    confirm_entered(show=show, by=stage.office_of(show), at=datetime.now(UTC))
    stage.open_window(show)


def judge_all(slug: str) -> None:
    """Hand every card in, answer what is asked, sign and release."""
    from judging.actions.compute_result import compute_result
    from judging.actions.release_result import release_result, sign_result
    from judging.models import Question
    from showrun.shows.models import Show
    from tests import judged_show as stage

    show = Show.objects.get(slug=slug)
    now = datetime.now(UTC) - timedelta(seconds=5)  # the release lies behind on any machine
    stage.mark_everything(show)
    for show_class in show.classes.all():
        result = compute_result(show_class=show_class, by=stage.office_of(show), at=now)
        for asked in Question.objects.filter(judge__show=show, state=Question.State.OPEN):
            told = stage.answer(asked, "confirm", text="As I saw it.")
            stage.send(asked.judge.devices.get(), [told], at=now)
        for hand in (stage.office_of(show), stage.steward_of(show)):
            sign_result(result=result, by=hand, at=now + timedelta(seconds=1))
        release_result(result=result, by=stage.office_of(show), at=now + timedelta(seconds=2))


def answer(slug: str, words: str) -> None:
    """Let the office answer the one query there is."""
    from judging.actions.exhibitor_queries import answer_query
    from judging.models import ExhibitorQuery
    from showrun.shows.models import Show
    from tests import judged_show as stage

    show = Show.objects.get(slug=slug)
    query = ExhibitorQuery.objects.get(entry__show=show)
    answer_query(
        query=query, verdict="stands", answer=words, by=stage.office_of(show),
        at=datetime.now(UTC),
    )  # fmt: skip


@dataclass
class WalkShow:
    """The show as a walk handles it; it lives in the same service as the large one."""

    live: LiveShow
    slug: str = SLUG

    def run(self, call: str) -> None:
        """Do one of the steps above inside the service."""
        source = f"from tests.browser import walk_show as here; here.{call}"
        self.live.manage("shell", "--no-imports", "-c", source)

    def pairing_link(self, judge: str) -> str:
        """Return the address that pairs whoever opens it with the judge, once."""
        link = self.live.sign_in_link(f"secretary.{self.slug}@showrun.example")
        office = Person(self.live.url, link)
        found = {one["code"]: one["id"] for one in office.api(f"/shows/{self.slug}/judges")}
        pairing = office.post(f"/judges/{found[judge]}/pairings", status=201)
        return f"{self.live.url}/round/#pair={pairing['code']}"

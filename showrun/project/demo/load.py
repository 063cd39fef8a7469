"""Load the invented show through the service's own use cases."""

from __future__ import annotations

from datetime import date, datetime, timedelta
from decimal import Decimal
from typing import Any

from entries.actions.decide_entry import confirm_entry
from entries.actions.enter import enter
from entries.actions.keep_animals import set_animals
from entries.actions.lay_out_camp import lay_out_camp
from entries.actions.set_terms import set_terms
from entries.models import Entry
from entries.rules.places import Status
from entries.rules.refunds import Step
from entries.rules.terms import Terms
from judging.actions.adopt_scorecard import adopt_scorecard
from judging.actions.declare_class import declare_class
from judging.actions.engage_judge import declare_conflict, engage_judge
from judging.actions.open_window import publish_window, size_window
from judging.actions.seat_panel import seat_panel
from judging.rules.cards.policies import GearCredit, Marking, ModernItems, Policies
from showrun.project.demo.money import leave_early, load_money
from showrun.project.demo.scenario import Scenario, animals_of, entry_body
from showrun.shows.actions.plan_show import give_role, person_for, plan_show
from showrun.shows.models import Person, Show
from showrun.shows.rules.access import Role

PANEL_SEED = 1


def load_show(scenario: Scenario, *, at: datetime) -> Show:
    """Plan the show: its classes, its card, its camp and the people of its office."""
    meta, people = scenario.meta, scenario.show["people"]
    later = _weeks_ahead(meta["starts_on"], at)
    secretary = _person(scenario.office("show_secretary"))
    show = plan_show(
        slug=meta["slug"],
        name=meta["name"],
        ground=meta["ground"],
        starts_on=meta["starts_on"] + later,
        ends_on=meta["ends_on"] + later,
        judging_starts_at=scenario.judging_starts_at + later,
        judging_minutes=scenario.judging_minutes,
        zone=meta["zone"],
        entry_cap=meta["entry_cap"],
        classes=[_class_line(line) for line in scenario.show["classes"]],
        office=secretary,
        at=at,
        entry_fee_cents=meta["fees"]["entry_fee_cents"],
        refund_terms=_refunds(meta["fees"]),
        cautions=[" ".join(text.split()) for text in meta["cautions"].values()],
        policies=[" ".join(text.split()) for text in meta["policies"].values()],
        gate_x_ft=scenario.show["camp"]["gate"]["x_ft"],
        gate_y_ft=scenario.show["camp"]["gate"]["y_ft"],
        walking_ft_per_minute=scenario.show["camp"]["walking_pace_ft_per_min"],
    )
    give_role(show=show, person=_person(scenario.office("steward")), role=Role.STEWARD)
    set_terms(show=show, terms=_terms(meta, show), by=secretary, at=at)
    lay_out_camp(show=show, spots=scenario.show["camp"]["spots"])
    card = adopt_scorecard(show=show, data=scenario.scorecard, by=secretary, at=at)
    by_code = {show_class.code: show_class for show_class in show.classes.all()}
    for line in scenario.show["classes"]:
        declare_class(
            show_class=by_code[line["code"]],
            scorecard=card,
            sections=line["sections"],
            method=line["method"],
            judges_per_section=line["judges_per_section"],
            tie_ladder=line["tie_ladder"],
            announced_points=Decimal(line["points"]),
            policies=_policies(line["policies"]),
            purse_cents=line["purse"]["dollars"] * 100,
            purse_weights=[str(share) for share in line["purse"]["shares"]],
            by=secretary,
            at=at,
        )
    for line in scenario.all_entries:
        person_for(email=line["exhibitor_email"], name=line["head_cook"])
    for line in people["judges"]:
        _person(line)
    return show


def _weeks_ahead(starts_on: date, at: datetime) -> timedelta:
    """Move an invented show that would be over by whole weeks, so that its entries are open."""
    over_by = (at.date() - starts_on).days + 2
    return timedelta(weeks=max(0, -(-over_by // 7)))


def load_day(scenario: Scenario, show: Show, *, at: datetime) -> None:
    """Bring the show to the morning of judging: entries, judges, panel, published window."""
    secretary = _person(scenario.office("show_secretary"))
    left = scenario.story["money"]["left"]
    leave_early(_enter(show, left, at), left, by=secretary, at=at)
    entries = [_enter(show, line, at) for line in scenario.all_entries]
    for line, entry in zip(scenario.all_entries, entries, strict=True):
        if entry.status == Status.ENTERED:
            confirm_entry(entry=entry, by=secretary, at=at, spot_number=line["camp_spot"])
    load_money(scenario, show, by=secretary, at=at)
    judges = {
        line["code"]: engage_judge(
            show=show,
            person=_person(line),
            code=line["code"],
            sections=line["sections"],
            seniority="senior",
            by=secretary,
            at=at,
        )
        for line in scenario.show["people"]["judges"]
    }
    numbered = {entry.number: entry for entry in Entry.objects.confirmed().filter(show=show)}
    for line in scenario.show["conflicts"]:
        declare_conflict(
            judge=judges[line["judge"]],
            entry=numbered[line["entry"]],
            kind=line["kind"],
            reason=line["reason"],
            by=secretary,
            at=at,
        )
    seat_panel(show=show, seed=PANEL_SEED, by=secretary, at=at)
    size_window(show=show, by=secretary, at=at)
    publish_window(show=show, by=secretary, at=at)


def _enter(show: Show, line: dict[str, Any], at: datetime) -> Entry:
    exhibitor = person_for(email=line["exhibitor_email"], name=line["head_cook"])
    entry = enter(show=show, exhibitor=exhibitor, at=at, **entry_body(line))
    animals = animals_of(line, today=at.astimezone(show.tz).date())
    set_animals(entry=entry, animals=animals, by=exhibitor, at=at)
    return entry


def _person(line: dict[str, Any]) -> Person:
    return person_for(email=line["email"], name=line["name"])


def _class_line(line: dict[str, Any]) -> dict[str, Any]:
    return {
        "code": line["code"],
        "name": line["name"],
        "description": " ".join(line["description"].split()),
        "places_awarded": line["places"],
    }


def _policies(line: dict[str, Any]) -> Policies:
    return Policies(
        gear_credit=GearCredit(line["gear_credit"]),
        marking=Marking(line["marking"]),
        modern_items=ModernItems(line["modern_items"]),
        period_from=line.get("period_from"),
        period_to=line.get("period_to"),
        note=line["note"],
    )


def _terms(meta: dict[str, Any], show: Show) -> Terms:
    asked, fees = meta["terms"], meta["fees"]
    return Terms(
        entry_cap=show.entry_cap,
        entry_fee_cents=show.entry_fee_cents,
        refund_terms=show.refund_terms,
        deposit_cents=fees["camp_deposit_cents"],
        travel_cents=fees["travel_money_cents"],
        refund_steps=[
            Step(show.starts_on - timedelta(days=step["days_before"]), step["percent"])
            for step in fees["refunds"]
            if step["percent"]
        ],
        waiver_text=asked["waiver"],
        animals_asked=asked["animals_asked"],
        animal_note=" ".join(asked["animal_note"].split()),
        eia_max_age_days=asked["eia_max_age_days"],
        camp_asked=asked["camp_asked"],
    )


def _refunds(fees: dict[str, Any]) -> str:
    """Say the refund steps in words."""
    words = {100: "All of the entry fee is paid back", 50: "half of it", 0: "nothing after that"}
    steps = [
        f"{words[step['percent']]} up to {step['days_before']} days before the show"
        if step["days_before"]
        else words[step["percent"]]
        for step in fees["refunds"]
    ]
    return ", ".join(steps) + "."

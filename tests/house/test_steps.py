"""How steps are counted and modelled."""

from __future__ import annotations

import pytest

from tests.browser.steps import Kind, Step, Steps, loads, minutes, taps, typed


def walked() -> Steps:
    steps = Steps(part="sign in")
    steps.add(Kind.LOAD, "/")
    steps.add(Kind.TYPE, "E-mail", 10)
    steps.add(Kind.TAP, "Send")
    steps.part = "choose"
    steps.add(Kind.LOAD, "/next/")
    steps.add(Kind.CHOOSE, "Clock")
    steps.add(Kind.AGAIN, "Tick")
    steps.add(Kind.READ, "Done")
    return steps


def test_steps_are_counted_by_part_and_in_all():
    steps = walked()
    assert (taps(steps.of()), loads(steps.of()), typed(steps.of())) == (5, 2, 10)
    assert (taps(steps.of("choose")), loads(steps.of("choose"))) == (3, 1)
    assert [line.split()[0] for line in steps.report().splitlines()] == ["sign", "choose", "in"]


@pytest.mark.parametrize(
    ("step", "seconds"),
    [
        # M, P and a press.
        (Step(Kind.TAP, ""), 1.35 + 1.10 + 0.20),
        (Step(Kind.AGAIN, ""), 1.30),
        # The same, to the keys and back, and ten keys of 0.28 s.
        (Step(Kind.TYPE, "", 10), 2.65 + 2 * 0.40 + 2.80),
        (Step(Kind.CHOOSE, ""), 1.35 + 2.60),
        (Step(Kind.READ, ""), 1.35),
        (Step(Kind.LOAD, ""), 0.0),
    ],
    ids=lambda value: value.kind if isinstance(value, Step) else "",
)
def test_each_step_takes_what_the_model_says(step: Step, seconds: float):
    assert step.seconds == pytest.approx(seconds)


def test_minutes_add_up():
    assert minutes(walked().of()) == pytest.approx((6.25 + 2.65 + 3.95 + 1.30 + 1.35) / 60)

"""Whether the results kept are those that the events of the round give."""

from __future__ import annotations

from collections.abc import Iterator

from judging.models import Result
from judging.queries.computed import Computed, kept_hash, kept_lines
from judging.queries.replay import Replay, mark_differences
from judging.queries.results import ClassInputs, latest_result, show_inputs
from judging.rules.results.class_result import RULE_VERSION
from judging.rules.results.result_hash import HashedLine
from showrun.shows.models import Show


def differences(show: Show) -> Iterator[str]:
    """Name everything that is kept otherwise than the events and the rules give it."""
    replay = Replay.of(show)
    yield from replay.faults
    yield from mark_differences(replay)
    classes = list(show.classes.all())
    inputs = show_inputs(show, classes)
    for show_class in classes:
        released = Result.objects.released().filter(show_class=show_class).first()
        newest = latest_result(show_class)
        for result in {one.pk: one for one in (released, newest) if one}.values():
            yield from _of_result(result, inputs.get(show_class.pk), replay)


def results_of(show: Show) -> int:
    """Count the results there are to be verified."""
    return Result.objects.filter(show_class__show=show).values("show_class").distinct().count()


def _of_result(result: Result, inputs: ClassInputs | None, replay: Replay) -> Iterator[str]:
    if inputs is None:
        yield f"{result}: how the class is judged is not declared any more."
        return
    if result.rule_version != RULE_VERSION:
        yield (
            f"{result}: it was computed by rule version {result.rule_version}; this program "
            f"knows version {RULE_VERSION} and cannot verify it."
        )
        return
    now = Computed(replay.inputs(inputs))
    if now.inputs_hash != result.inputs_hash:
        # Marks that came after it are no fault of it.
        then = Replay.of(replay.show, until=result.computed_at)
        before = Computed(then.inputs(inputs, past=True))
        if before.inputs_hash == result.inputs_hash:
            now = before
        else:
            yield f"{result}: it was not computed from the marks that the events give."
    unlike = list(_lines_unlike(result, now))
    yield from unlike
    same_inputs = now.inputs_hash == result.inputs_hash
    if kept_hash(result) != result.result_hash:
        yield f"{result}: what is kept of it does not match its result_hash."
    elif same_inputs and not unlike and now.result_hash != result.result_hash:
        yield f"{result}: its result_hash is not that of the result computed again."


def _lines_unlike(result: Result, now: Computed) -> Iterator[str]:
    kept = kept_lines(result)
    told = {
        line.entry: HashedLine(
            line.entry, line.place, line.total, line.by_section, line.purse_cents
        )
        for line in now.found.lines
    }
    for entry in sorted(kept.keys() | told.keys()):
        is_kept, is_told = kept.get(entry), told.get(entry)
        where = f"{result}, wagon {entry}"
        if is_kept is None or is_told is None:
            is_there, by = ("no line", "gives one") if is_told else ("a line", "gives none")
            yield f"{where}: {is_there} is kept, the recomputed result {by}."
            continue
        pairs = [
            ("place", str(is_kept.place), str(is_told.place)),
            ("total", f"{is_kept.total:.2f}", f"{is_told.total:.2f}"),
            ("purse in cents", str(is_kept.purse_cents), str(is_told.purse_cents)),
            *(
                (
                    f"points of {code}",
                    f"{is_kept.by_section.get(code, 0):.2f}",
                    f"{is_told.by_section.get(code, 0):.2f}",
                )
                for code in sorted({*is_kept.by_section, *is_told.by_section})
            ),
        ]
        for what, one, other in pairs:
            if one != other:
                yield f"{where}: {what} {one} is kept, the recomputed result has {other}."

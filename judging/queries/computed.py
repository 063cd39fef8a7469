"""A class's result as its inputs give it, beside the one that is kept."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal
from functools import cached_property
from typing import Any

from judging.models import Result
from judging.queries.results import ClassInputs, number_of
from judging.rules.results.class_result import (
    RULE_VERSION,
    ByMethod,
    ClassCase,
    ClassResult,
    class_result,
)
from judging.rules.results.incomplete import Gap
from judging.rules.results.result_hash import HashedLine, result_hash


@dataclass(frozen=True)
class Computed:
    """What a class's result is by these inputs; nothing is written."""

    inputs: ClassInputs

    @cached_property
    def inputs_hash(self) -> str:
        """The fingerprint of marks and rules declared."""
        return self.inputs.fingerprint()

    @cached_property
    def found(self) -> ClassResult:
        """The result, by the rules."""
        inputs, card = self.inputs, self.inputs.class_card
        return class_result(
            ClassCase(
                method=card.method,
                points=inputs.points,
                entries=[number_of(entry) for entry in inputs.entries],
                worth={section.code: section.points for section in inputs.sections},
                judges_required=inputs.judges_required,
                ladder=card.tie_ladder,
                gaps=[
                    Gap(number_of(gap.entry), gap.judge_code, gap.section) for gap in inputs.missing
                ],
                by_places=list(inputs.placed.sections.values()),
                purse_cents=card.purse_cents,
                purse_weights=[Decimal(weight) for weight in card.purse_weights],
            )
        )

    @cached_property
    def gaps(self) -> list[dict[str, Any]]:
        """The cards missing, as the result keeps them."""
        return [
            {
                "entry": gap.entry.number,
                "judge": gap.judge_code,
                "section": gap.section,
                "rows": gap.rows,
                "handed_in": gap.handed_in,
            }
            for gap in self.inputs.missing
        ]

    @cached_property
    def result_hash(self) -> str:
        """The fingerprint of the result."""
        return result_hash(
            inputs=self.inputs_hash,
            method=self.inputs.class_card.method,
            rule_version=RULE_VERSION,
            lines=[
                HashedLine(line.entry, line.place, line.total, line.by_section, line.purse_cents)
                for line in self.found.lines
            ],
            gaps=self.gaps,
        )

    @property
    def section_names(self) -> dict[str, str]:
        """The names of the sections by code."""
        return {section.code: section.name for section in self.inputs.sections}

    def told(self, by: ByMethod) -> dict[str, Any]:
        """Return a total and place by one method as the placing keeps them."""
        return {
            "total": f"{by.total:.2f}",
            "place": by.place,
            "decided_by": self.section_names.get(by.decided_by or "", ""),
        }

    @property
    def uncertainty(self) -> dict[str, Any]:
        """How sure the places are, as the result keeps it."""
        sure = self.found.sureness
        if sure is None:
            return {}
        return {
            "basis": sure.basis,
            "refused": sure.refused,
            "df": None if sure.df is None else round(sure.df, 2),
            "neighbours": [
                {
                    "above": pair.ahead,
                    "below": pair.behind,
                    "chance": round(pair.chance, 4),
                    "told_apart": pair.told_apart,
                    "sentence": pair.sentence,
                }
                for pair in sure.neighbours
            ],
        }


def kept_lines(result: Result) -> dict[int, HashedLine]:
    """Return the lines a result keeps, by entry number."""
    found = {}
    for line in result.placings.select_related("entry"):
        points = {code: Decimal(value) for code, value in line.by_section.items()}
        number = number_of(line.entry)
        found[number] = HashedLine(number, line.place, line.total, points, line.purse_cents)
    return found


def kept_hash(result: Result) -> str:
    """Fingerprint a result by what is kept of it, whatever hash stands beside it."""
    return result_hash(
        inputs=result.inputs_hash,
        method=result.method,
        rule_version=result.rule_version,
        lines=kept_lines(result).values(),
        gaps=result.gaps,
    )

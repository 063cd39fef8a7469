"""What a class declares before judging, beside its points, and the sentences that say it."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from judging.rules.cards.scorecard import NotInspected


class GearCredit(StrEnum):
    """How original, restored and new gear is credited."""

    ALIKE = "alike"
    ORIGINAL_FIRST = "original_first"
    SOUNDNESS_ONLY = "soundness_only"


class Marking(StrEnum):
    """Where a judge's hand starts on a row."""

    BUILD_FROM_MIDDLE = "build_from_middle"
    DEDUCT_FROM_FULL = "deduct_from_full"


class ModernItems(StrEnum):
    """What a modern item costs."""

    HIDDEN_IS_FINE = "hidden_is_fine"
    LOSES = "loses"
    ZERO_ROW = "zero_row"


@dataclass(frozen=True)
class Policies:
    """What one class declares; years are whole years, None where the show sets none."""

    gear_credit: GearCredit = GearCredit.ALIKE
    marking: Marking = Marking.BUILD_FROM_MIDDLE
    modern_items: ModernItems = ModernItems.LOSES
    period_from: int | None = None
    period_to: int | None = None
    not_inspected: NotInspected = NotInspected.RESCALE
    note: str = ""

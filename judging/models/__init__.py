"""The nouns of judging, one a file."""

from judging.models.card import Card, CardMark, Remark
from judging.models.concern import SafetyConcern
from judging.models.device import Device, PairingCode
from judging.models.event import RoundEvent
from judging.models.judge import Conflict, Judge
from judging.models.panel import Seat
from judging.models.question import Question
from judging.models.result import Placing, Result, Signature
from judging.models.rig_report import RigReport
from judging.models.scorecard import ClassCard, Criterion, Scorecard, Section
from judging.models.window import Visit, Window

__all__ = [
    "Card",
    "CardMark",
    "ClassCard",
    "Conflict",
    "Criterion",
    "Device",
    "Judge",
    "PairingCode",
    "Placing",
    "Question",
    "Remark",
    "Result",
    "RigReport",
    "RoundEvent",
    "SafetyConcern",
    "Scorecard",
    "Seat",
    "Section",
    "Signature",
    "Visit",
    "Window",
]

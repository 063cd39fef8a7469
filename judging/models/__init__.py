"""The nouns of judging, one a file."""

from judging.models.announced import Announcement, CalledOffVisit
from judging.models.calendar import CalendarLink
from judging.models.card import Card, CardMark, Remark
from judging.models.concern import SafetyConcern
from judging.models.device import Device, PairingCode
from judging.models.event import RoundEvent
from judging.models.exhibitor_query import ExhibitorQuery
from judging.models.food import Dish, FoodFigures, FoodRound, TablePlace, TemperatureReading
from judging.models.judge import Conflict, Judge
from judging.models.keying import KeyedRow, Keying, PaperCard
from judging.models.panel import Seat
from judging.models.panel_rules import PanelRules, Pin
from judging.models.photo import RoundPhoto
from judging.models.plan import DayRules, Pause, PlanJob
from judging.models.question import Question
from judging.models.result import Placing, Result, Signature
from judging.models.rig_report import RigReport
from judging.models.scorecard import ClassCard, Criterion, Scorecard, Section
from judging.models.season import Season, SeasonClass
from judging.models.window import Visit, Window

__all__ = [
    "Announcement",
    "CalendarLink",
    "CalledOffVisit",
    "Card",
    "CardMark",
    "ClassCard",
    "Conflict",
    "Criterion",
    "DayRules",
    "Device",
    "Dish",
    "ExhibitorQuery",
    "FoodFigures",
    "FoodRound",
    "Judge",
    "KeyedRow",
    "Keying",
    "PairingCode",
    "PanelRules",
    "PaperCard",
    "Pause",
    "Pin",
    "Placing",
    "PlanJob",
    "Question",
    "Remark",
    "Result",
    "RigReport",
    "RoundEvent",
    "RoundPhoto",
    "SafetyConcern",
    "Scorecard",
    "Season",
    "SeasonClass",
    "Seat",
    "Section",
    "Signature",
    "TablePlace",
    "TemperatureReading",
    "Visit",
    "Window",
]

"""Shapes of judging on the wire."""

from __future__ import annotations

from typing import Any

from drf_spectacular.utils import extend_schema_field
from rest_framework import serializers

from judging.api.round_shapes import CardReceiptOut
from judging.models import Conflict, Judge, Question, Window
from judging.queries.questions import question_sentence
from judging.rules.round.events import read_battery
from showrun.shows.api.described import example
from showrun.shows.api.lists import PageAsked


@example({"code": "K7QM-2XPD", "label": "Ada's phone"})
class PairIn(serializers.Serializer):
    """A code read aloud or scanned, and a name for the phone."""

    code = serializers.CharField(max_length=40)
    label = serializers.CharField(  # type: ignore[assignment]
        max_length=80, allow_blank=True, default=""
    )
    earlier = serializers.ListField(  # so that one phone is not two of the same judge's
        child=serializers.CharField(max_length=100),
        max_length=50,
        default=list,
        help_text="Tokens this phone was given before. Those of the same judge end.",
    )


@example({"code": "K7QM-2XPD"})
class CodeIn(serializers.Serializer):
    """A code to ask about."""

    code = serializers.CharField(max_length=40)


@extend_schema_field(
    {"type": "integer", "minimum": 0, "maximum": 100, "nullable": True, "description": "In %."}
)
class BatteryField(serializers.JSONField):
    """How full the battery is; a phone that tells nonsense is heard all the same."""

    def to_internal_value(self, data: object) -> Any:
        return read_battery(data)


@example(
    {
        "unsent": 0,
        "battery_percent": 80,
        "sent_at": "2027-05-15T09:05:00-06:00",
        "events": [
            {
                "id": "8e03978e-40d5-43dd-bc93-6894a57f9324",
                "seq": 1,
                "at": "2027-05-15T09:04:00-06:00",
                "kind": "mark",
                "entry": 12,
                "criterion": "wheels",
                "state": "marked",
                "value": "7.5",
            }
        ],
    }
)
class BatchIn(serializers.Serializer):
    """Up to 40 events. What an event must say is read one by one, so that one bad event does
    not keep the good ones out."""

    unsent = serializers.IntegerField(min_value=0, max_value=1_000_000, default=0)
    battery_percent = BatteryField(allow_null=True, default=None)
    sent_at = serializers.CharField(  # what the phone's clock says, to set its times right
        max_length=40, allow_blank=True, default=""
    )
    events = serializers.ListField(child=serializers.JSONField(allow_null=True), allow_empty=True)

    def validate_events(self, events: list[object]) -> list[object]:
        # kept as a word, since nothing at all cannot be kept
        return ["null" if event is None else event for event in events]


class OutcomeOut(serializers.Serializer):
    """What became of one event."""

    id = serializers.CharField(allow_blank=True)
    status = serializers.ChoiceField(choices=["applied", "duplicate", "held"])
    code = serializers.CharField(allow_blank=True)
    reason = serializers.CharField(allow_blank=True)


class BatchOut(serializers.Serializer):
    """Answers in the order sent, and the fingerprints of the cards the batch speaks of.

    A card on which the office or another phone wrote is told with every batch. A phone that was
    shut out is told so and of no card; what it sent is kept for the office.
    """

    server_time = serializers.DateTimeField()
    shut_out = serializers.BooleanField()
    results = OutcomeOut(many=True)
    cards = serializers.DictField(child=CardReceiptOut())


@example(
    {
        "email": "judge@showrun.example",
        "name": "Ada Moor",
        "code": "J9",
        "sections": ["harness"],
        "seniority": "novice",
    }
)
class JudgeIn(serializers.Serializer):
    """A judge to engage."""

    email = serializers.EmailField()
    name = serializers.CharField(max_length=120)
    code = serializers.SlugField(max_length=50)
    sections = serializers.ListField(child=serializers.CharField(max_length=50), max_length=50)
    seniority = serializers.ChoiceField(choices=["senior", "novice"], default="senior")


class JudgeOut(serializers.Serializer):
    """A judge as the office sees them."""

    id = serializers.IntegerField()
    code = serializers.CharField()
    name = serializers.CharField(source="person.name")
    seniority = serializers.CharField()
    sections = serializers.SerializerMethodField()
    conflicts = serializers.SerializerMethodField()

    def get_sections(self, judge: Judge) -> list[str]:
        return [section.code for section in judge.sections.all()]

    def get_conflicts(self, judge: Judge) -> list[int]:
        return [conflict.entry_id for conflict in judge.conflicts.all()]


@example({"entry": 12, "kind": "kin", "reason": "A cousin drives."})
class ConflictIn(serializers.Serializer):
    """Why a judge must not see an entry."""

    entry = serializers.IntegerField(min_value=1)
    kind = serializers.ChoiceField(choices=[kind for kind, _ in Conflict.KINDS])
    reason = serializers.CharField(max_length=200, allow_blank=True, default="")


@example({"scribe": "Ben Oak"})
class PairingIn(serializers.Serializer):
    """Who will key for the judge on the phone; empty, the judge does.

    With `takes_place` the phones the judge has now are shut out once the code is used: two phones
    of one judge cannot put each other's marks right.
    """

    scribe = serializers.CharField(max_length=80, allow_blank=True, default="")
    takes_place = serializers.BooleanField(default=False)


class PairingOut(serializers.Serializer):
    """A pairing code, shown once."""

    code = serializers.CharField()
    link = serializers.CharField()
    expires_at = serializers.DateTimeField()


@example({"seed": 7})
class PanelIn(serializers.Serializer):
    """The seed: the same seed and entries give the same panel."""

    seed = serializers.IntegerField(min_value=0, max_value=2**31 - 1, default=1)


class SeatOut(serializers.Serializer):
    """A judge's place at a section of an entry."""

    entry = serializers.IntegerField(source="entry.number")
    entry_id = serializers.IntegerField()
    section = serializers.CharField(source="section.code")
    judge = serializers.CharField(source="judge.code")


class PanelOut(serializers.Serializer):
    """The panel as drawn."""

    seats = SeatOut(many=True)
    loads = serializers.DictField(child=serializers.IntegerField())


@example({"reason": "Rain till noon."})
class WhyIn(serializers.Serializer):
    """Why something is done."""

    reason = serializers.CharField(max_length=200, allow_blank=True, default="")


@example({"opens_at": "2027-05-15T09:00:00-06:00", "minutes": 240})
class HoursIn(serializers.Serializer):
    """The judging window's hours."""

    opens_at = serializers.DateTimeField()
    minutes = serializers.IntegerField(min_value=1, max_value=24 * 60)


class MendedOut(serializers.Serializer):
    """What mending the panel changed."""

    dropped = serializers.IntegerField()
    added = serializers.IntegerField()
    late_visits = serializers.IntegerField()


class VisitOut(serializers.Serializer):
    """One judge's stay at one entry."""

    judge = serializers.CharField(source="judge.code")
    entry = serializers.IntegerField(source="entry.number")
    starts_at = serializers.DateTimeField()
    ends_at = serializers.DateTimeField()


@example({"hold": "likely"})
class SizeIn(serializers.Serializer):
    """What the window is to hold: what nine days of ten need, or the shortest plan alone."""

    hold = serializers.ChoiceField(choices=["likely", "plan"], default="likely")


@example({"accept_chance": True})
class PublishIn(serializers.Serializer):
    """Whether a window that nine days of ten do not keep is published all the same."""

    accept_chance = serializers.BooleanField(default=False)


class WindowOut(serializers.Serializer):
    """The window with its rotation."""

    opens_at = serializers.DateTimeField()
    available_minutes = serializers.IntegerField()
    needed_minutes = serializers.IntegerField()
    bound_minutes = serializers.IntegerField()
    likely_minutes = serializers.IntegerField(allow_null=True)
    chance = serializers.FloatField(allow_null=True)
    proven = serializers.BooleanField()
    fits = serializers.BooleanField()
    solver = serializers.CharField()
    advice = serializers.ListField(child=serializers.CharField())
    published_at = serializers.DateTimeField(allow_null=True)
    visits = serializers.SerializerMethodField()

    @extend_schema_field(VisitOut(many=True))
    def get_visits(self, window: Window) -> list[dict[str, object]]:
        visits = window.visits.select_related("judge", "entry")
        return [dict(line) for line in VisitOut(visits, many=True).data]


class ProgressAsked(serializers.Serializer):
    """Whose cards are wanted; without a judge, everybody's."""

    judge = serializers.CharField(
        max_length=50, required=False, default="", help_text="A judge's short name."
    )


class CardProgressOut(serializers.Serializer):
    """How far one card is."""

    judge = serializers.CharField(source="judge_code")
    entry = serializers.IntegerField(source="entry_number")
    marked = serializers.IntegerField()
    expected = serializers.IntegerField()
    handed_in_at = serializers.DateTimeField(allow_null=True)
    keyed_by = serializers.ListField(  # scribes, where the judge's own hand did not key all
        child=serializers.CharField(), source="hands.scribes"
    )


class HeldOut(serializers.Serializer):
    """An event kept for the office."""

    id = serializers.UUIDField()
    judge = serializers.CharField(source="device.judge.code")
    code = serializers.CharField(source="reason_code")
    reason = serializers.CharField()
    received_at = serializers.DateTimeField()


class ConcernOut(serializers.Serializer):
    """A safety concern."""

    id = serializers.IntegerField()
    entry = serializers.IntegerField(source="entry.number")
    judge = serializers.CharField(source="judge.code")
    degree = serializers.CharField()
    text = serializers.CharField()
    seen_at = serializers.DateTimeField(allow_null=True)


class JudgingProgressOut(serializers.Serializer):
    """The judging at a glance."""

    cards_in = serializers.IntegerField()
    cards_expected = serializers.IntegerField()
    open_questions = serializers.IntegerField()
    cards = CardProgressOut(many=True)
    held = HeldOut(many=True)
    concerns = ConcernOut(many=True)


class QuestionsAsked(PageAsked):
    """Which questions are wanted."""

    state = serializers.ChoiceField(choices=Question.State.choices, required=False, default=None)
    judge = serializers.CharField(
        max_length=50, required=False, default="", help_text="A judge's short name."
    )


class QuestionOut(serializers.Serializer):
    """A question to a judge; what does not fit its kind is null."""

    id = serializers.IntegerField()
    judge = serializers.CharField(source="judge.code")
    kind = serializers.ChoiceField(choices=Question.Kind.choices)
    check = serializers.CharField(source="check_name")
    entry = serializers.IntegerField(source="entry.number", default=None, allow_null=True)
    other_entry = serializers.IntegerField(
        source="other_entry.number", default=None, allow_null=True
    )
    criterion = serializers.CharField(source="criterion.code", default=None, allow_null=True)
    value = serializers.DecimalField(max_digits=5, decimal_places=2, allow_null=True)
    expected = serializers.DecimalField(max_digits=5, decimal_places=1, allow_null=True)
    sentence = serializers.SerializerMethodField()
    statistic = serializers.FloatField()
    threshold = serializers.FloatField()
    state = serializers.CharField()
    proposed_by = serializers.CharField(source="proposed_by.name", default=None, allow_null=True)

    def get_sentence(self, question: Question) -> str:
        return question_sentence(question)


class AskedOut(serializers.Serializer):
    """The outcome of running the checks."""

    marks_checked = serializers.IntegerField()
    threshold = serializers.FloatField(allow_null=True)
    alpha = serializers.FloatField()
    asked = QuestionOut(many=True)


@example({"check": "order", "judge": 4})
class FindingIn(serializers.Serializer):
    """A finding about the day; what the order did is put to all judges."""

    check = serializers.CharField(max_length=20)
    judge = serializers.IntegerField(allow_null=True, default=None)


@example({"verdict": "correct", "value": "8.00", "reason": "The judge read 3 for 8."})
class AnswerIn(serializers.Serializer):
    """An answer on the judge's behalf."""

    verdict = serializers.ChoiceField(choices=["confirm", "correct", "unsure"])
    value = serializers.DecimalField(
        max_digits=5, decimal_places=2, allow_null=True, default=None, required=False
    )
    reason = serializers.CharField(max_length=300)


@example({"note": "The judge marked the row again."})
class NoteIn(serializers.Serializer):
    """What was done about it."""

    note = serializers.CharField(max_length=300)

"""Shapes of the round on the wire, as a phone gets it; the phone's own types are made from them.

Nothing is read or written by them: `judging/queries/round.py` makes the round itself.
"""

from __future__ import annotations

from drf_spectacular.utils import extend_schema_field
from rest_framework import serializers

FORMS = ["points", "pass_fail", "placings"]
MARK_STATES = ["marked", "not_applicable", "not_inspected"]
RIG_REPORT_STATES = ["open", "adopted", "declined", "replaced"]
QUESTION_KINDS = ["marks", "cards", "swaps", "day"]
DEGREES_OF_DANGER = ["", "A", "B", "C"]


def words() -> serializers.Field:  # type: ignore[type-arg]
    """Return a field of words by name."""
    return serializers.DictField(child=serializers.CharField(allow_blank=True))


def names() -> serializers.Field:  # type: ignore[type-arg]
    """Return a field that lists codes or sentences."""
    return serializers.ListField(child=serializers.CharField(allow_blank=True))


_FACTS = {"type": "object", "additionalProperties": {"type": "array", "items": {"type": "string"}}}


@extend_schema_field({"oneOf": [_FACTS, {"type": "array", "items": _FACTS}]})
class ConditionField(serializers.JSONField):
    """The rigs a row is for: every named fact must fit, or one of several such lists."""


class CodeNameOut(serializers.Serializer):
    """Somebody or something with a code."""

    code = serializers.CharField()
    name = serializers.CharField()


class SlugNameOut(serializers.Serializer):
    """A show by its address and its name."""

    slug = serializers.CharField()
    name = serializers.CharField()


class PhoneOut(serializers.Serializer):
    """A paired phone."""

    id = serializers.IntegerField()
    label = serializers.CharField(allow_blank=True)  # type: ignore[assignment]
    scribe = serializers.CharField(
        allow_blank=True, help_text="Who writes for the judge, or empty."
    )


class RoundPhoneOut(PhoneOut):
    """The phone that asks."""

    taken = serializers.IntegerField(
        help_text="How many of its events are here; fewer than it sent: they are to be sent again."
    )


class RoundShowOut(SlugNameOut):
    """The show as a judge reads it."""

    ground = serializers.CharField(allow_blank=True)
    zone = serializers.CharField()
    cautions = serializers.JSONField()
    policies = serializers.JSONField()
    judging_starts_at = serializers.DateTimeField()


class RoundRowOut(CodeNameOut):
    """One row of the card."""

    guidance = serializers.CharField(allow_blank=True)
    danger = serializers.ChoiceField(choices=DEGREES_OF_DANGER, allow_blank=True)
    max_mark = serializers.CharField(help_text="A plain decimal.")
    step = serializers.CharField(help_text="A plain decimal.")
    applies = ConditionField()
    parts = names()


class RoundSectionOut(CodeNameOut):
    """Rows judged together."""

    points = serializers.CharField()
    minutes = serializers.IntegerField()
    form = serializers.ChoiceField(choices=FORMS)
    all_or_nothing = serializers.BooleanField()
    quick_phrases = names()
    criteria = RoundRowOut(many=True)


class RoundCardOut(serializers.Serializer):
    """The card that judges mark on."""

    name = serializers.CharField()
    version = serializers.IntegerField()
    notice = serializers.CharField(allow_blank=True)
    frozen = serializers.BooleanField()
    sections = RoundSectionOut(many=True)


class ValueWordsOut(serializers.Serializer):
    """One value a fact may have, and what it is called."""

    value = serializers.CharField()
    words = serializers.CharField()


class RigFactOut(serializers.Serializer):
    """A fact of a rig."""

    fact = serializers.CharField()
    words = serializers.CharField()
    values = ValueWordsOut(many=True)


class PartOut(serializers.Serializer):
    """One part in the handbook."""

    name = serializers.CharField()
    group = serializers.CharField()
    job = serializers.CharField()
    look = serializers.CharField()
    fails = serializers.CharField()
    danger = serializers.ChoiceField(choices=DEGREES_OF_DANGER, allow_blank=True)
    rigs = serializers.CharField()
    drawing = serializers.CharField(allow_blank=True)
    mark = serializers.IntegerField(help_text="Its number in the drawing, or 0.")


class DrawingOut(serializers.Serializer):
    """A drawing of the handbook."""

    title = serializers.CharField()
    alt = serializers.CharField()
    url = serializers.CharField()


class HandbookOut(serializers.Serializer):
    """The parts the card looks at, by code."""

    parts = serializers.DictField(child=PartOut())
    drawings = serializers.DictField(child=DrawingOut())


class StateWordsOut(serializers.Serializer):
    """What zero and the two states do in a class."""

    zero = serializers.CharField()
    not_applicable = serializers.CharField()
    not_inspected = serializers.CharField()


class ClassPoliciesOut(serializers.Serializer):
    """What a class declares."""

    name = serializers.CharField()
    sections = names()
    lines = names()
    states = StateWordsOut()


class MarkOut(serializers.Serializer):
    """A judge's mark; the value is a plain decimal."""

    state = serializers.ChoiceField(choices=MARK_STATES)
    value = serializers.CharField(allow_null=True)


class EarlierMarkOut(MarkOut):
    """A mark on a row of an earlier card."""

    code = serializers.CharField()
    name = serializers.CharField()
    form = serializers.ChoiceField(choices=FORMS)


class CardStateOut(serializers.Serializer):
    """A judge's card of one wagon, as it stands."""

    handed_in = serializers.BooleanField()
    hash = serializers.CharField(allow_blank=True, help_text="Empty for a card not begun.")
    marks = serializers.DictField(child=MarkOut())
    aside = serializers.DictField(child=MarkOut())
    earlier = EarlierMarkOut(many=True)
    remarks = words()


class RoundEntryOut(serializers.Serializer):
    """A wagon as a judge meets it."""

    id = serializers.IntegerField()
    number = serializers.IntegerField(allow_null=True)
    wagon_name = serializers.CharField()
    outfit = serializers.CharField(allow_blank=True)
    rig = words()
    rig_words = serializers.CharField()
    rig_entered = words()
    spot = serializers.IntegerField(allow_null=True)


class RoundRigReportOut(serializers.Serializer):
    """What a judge said of the rig, and what the office made of it."""

    state = serializers.ChoiceField(choices=RIG_REPORT_STATES)
    text = serializers.CharField(allow_blank=True)
    note = serializers.CharField(allow_blank=True)


class RoundPhotoOut(serializers.Serializer):
    """A photo this judge took; without a row it is of the whole wagon."""

    id = serializers.UUIDField()
    criterion = serializers.CharField(allow_blank=True)


class PhotoLimitsOut(serializers.Serializer):
    """How many photos a card takes, and how long the longer side of one need be."""

    per_card = serializers.IntegerField()
    max_px = serializers.IntegerField()


class RoundVisitOut(serializers.Serializer):
    """A judge's visit to one wagon."""

    starts_at = serializers.DateTimeField(allow_null=True)
    ends_at = serializers.DateTimeField(allow_null=True)
    practice = serializers.BooleanField()
    scratched = serializers.BooleanField(help_text="Out of the show: nothing is marked any more.")
    sections = names()
    entry = RoundEntryOut()
    rig_report = RoundRigReportOut(allow_null=True)
    card = CardStateOut()
    photos = RoundPhotoOut(many=True)


class RoundQuestionOut(serializers.Serializer):
    """A question of the office; what does not fit its kind is null."""

    id = serializers.IntegerField()
    kind = serializers.ChoiceField(choices=QUESTION_KINDS)
    check = serializers.CharField()
    entry = serializers.IntegerField(allow_null=True)
    other_entry = serializers.IntegerField(allow_null=True)
    criterion = serializers.CharField(allow_null=True)
    value = serializers.CharField(allow_null=True, help_text="A plain decimal.")
    expected = serializers.CharField(allow_null=True, help_text="A plain decimal.")
    sentence = serializers.CharField()
    state = serializers.CharField()


class TimeChangeOut(serializers.Serializer):
    """A visit whose announced time changed: start and end, before and now."""

    entry = serializers.IntegerField()
    number = serializers.IntegerField(allow_null=True)
    was = serializers.ListField(child=serializers.DateTimeField(), allow_null=True)
    now = serializers.ListField(child=serializers.DateTimeField(), allow_null=True)


class RoundAnnouncementOut(serializers.Serializer):
    """Changed times of this judge's visits."""

    number = serializers.IntegerField()
    at = serializers.DateTimeField()
    reason = serializers.CharField(allow_blank=True)
    changes = TimeChangeOut(many=True)


class RoundOut(serializers.Serializer):
    """The round as a phone holds it."""

    schema = serializers.IntegerField()
    server_time = serializers.DateTimeField()
    show = RoundShowOut()
    judge = CodeNameOut()
    device = RoundPhoneOut()
    card = RoundCardOut()
    rig_facts = RigFactOut(many=True)
    handbook = HandbookOut()
    policies_by_class = ClassPoliciesOut(many=True)
    visits = RoundVisitOut(many=True)
    questions = RoundQuestionOut(many=True)
    announcements = RoundAnnouncementOut(many=True)
    photos = PhotoLimitsOut()


class CodeOut(serializers.Serializer):
    """Whose phone a pairing code would make."""

    judge = CodeNameOut()
    show = SlugNameOut()


class PairedOut(serializers.Serializer):
    """The token, shown once."""

    token = serializers.CharField()
    device = PhoneOut()
    judge = CodeNameOut()
    show = SlugNameOut()


class CardReceiptOut(serializers.Serializer):
    """The fingerprint of a card as the office has it."""

    hash = serializers.CharField(allow_blank=True)
    marks = serializers.IntegerField()
    handed_in = serializers.BooleanField()

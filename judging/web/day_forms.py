"""What the office types when the day goes another way than planned."""

from __future__ import annotations

from datetime import datetime, time, timedelta
from typing import Any

from django import forms

from entries.models import Entry
from judging.actions.replan_day import Happening, What
from judging.models import Judge
from showrun.shows.models import Show
from showrun.shows.web.office_form import OfficeForm

LONGEST_MINUTES = 240


class HappeningForm(OfficeForm):
    """What one kind of form has in common: the show it is about, and what became of it."""

    what: What
    title = ""
    lead = ""
    act = "Work out new times"

    reason = forms.CharField(
        label="Reason",
        help_text="One sentence; it is told with the new times.",
        max_length=200,
        required=False,
        widget=forms.TextInput(attrs={"autocomplete": "off"}),
    )

    def __init__(self, data: Any = None, *, show: Show) -> None:
        super().__init__(data, prefix=self.what.value)
        self.show = show
        judge, entry = self.fields.get("judge"), self.fields.get("entry")
        if isinstance(judge, forms.ModelChoiceField):
            here = Judge.objects.filter(show=show, left_at__isnull=True)
            judge.queryset = here.select_related("person")
        if isinstance(entry, forms.ModelChoiceField):
            entry.queryset = Entry.objects.confirmed().filter(show=show)
        self.order_fields([name for name in self.fields if name != "reason"])

    @property
    def happening(self) -> Happening:
        """What was typed, as the re-plan takes it."""
        given = self.cleaned_data
        return Happening(
            what=self.what,
            judge=given.get("judge"),
            entry=given.get("entry"),
            minutes=given.get("minutes"),
            starts_at=given.get("starts_at"),
            ends_at=given.get("ends_at"),
            reason=given.get("reason", ""),
        )


def _judge() -> forms.ModelChoiceField[Judge]:
    return forms.ModelChoiceField(
        Judge.objects.none(),
        label="Judge",
        empty_label="Choose a judge",
        error_messages={"required": "Which judge?", "invalid_choice": "Choose a judge."},
    )


def _entry() -> forms.ModelChoiceField[Entry]:
    return forms.ModelChoiceField(
        Entry.objects.none(),
        label="Wagon",
        empty_label="Choose a wagon",
        error_messages={"required": "Which wagon?", "invalid_choice": "Choose a wagon."},
    )


def _clock(label: str) -> forms.TimeField:
    return forms.TimeField(
        label=label,
        error_messages={
            "required": "What time, on the show's clock?",
            "invalid": "A time of day, such as 10:30.",
        },
        widget=forms.TimeInput(attrs={"type": "time"}, format="%H:%M"),
    )


class LateForm(HappeningForm):
    """A judge loses time."""

    what = What.LATE
    title = "A judge is held up"
    lead = "The judge ends the visit under way, then loses these minutes."

    judge = _judge()
    minutes = forms.IntegerField(
        label="Minutes lost",
        min_value=1,
        max_value=LONGEST_MINUTES,
        error_messages={
            "required": "How many minutes?",
            "min_value": "At least one minute.",
            "max_value": f"At most {LONGEST_MINUTES} minutes.",
        },
    )


class GoneForm(HappeningForm):
    """A judge goes home."""

    what = What.GONE
    title = "A judge is gone"
    lead = (
        "Cards handed in still count. The judge is taken off at once and the panel is mended; "
        "the times change only once you announce them."
    )
    act = "Take the judge off and work out new times"

    judge = _judge()

    def __init__(self, data: Any = None, *, show: Show) -> None:
        super().__init__(data, show=show)
        self.fields["reason"].required = True
        self.fields["reason"].error_messages["required"] = "Why does the judge leave?"


class _SpanForm(HappeningForm):
    """A time from and to, on the show's own clock and the day of judging."""

    def clean(self) -> dict[str, Any]:
        """Put the times onto the day."""
        cleaned: dict[str, Any] = super().clean() or {}
        begins, ends = cleaned.get("begins"), cleaned.get("ends")
        if begins is None or ends is None:
            return cleaned
        cleaned["starts_at"] = self._moment(begins)
        cleaned["ends_at"] = self._moment(ends)
        if cleaned["ends_at"] <= cleaned["starts_at"]:
            self.add_error("ends", "It ends after it begins.")
        return cleaned

    def _moment(self, clock: time) -> datetime:
        """A window may run past midnight: what lies before its opening is on the next day."""
        opens = self.show.judging_starts_at.astimezone(self.show.tz)
        moment = datetime.combine(opens.date(), clock, tzinfo=self.show.tz)
        return moment if moment >= opens - timedelta(hours=6) else moment + timedelta(days=1)


class CrewForm(_SpanForm):
    """A crew is away from its wagon."""

    what = What.CREW
    title = "A crew is away"
    lead = "Nobody visits the wagon in this time."

    entry = _entry()
    begins = _clock("From")
    ends = _clock("To")


class StopForm(_SpanForm):
    """All judging stands still."""

    what = What.STOP
    title = "Everybody stops"
    lead = "No visit takes place in this time, and nobody walks."

    begins = _clock("From")
    ends = _clock("To")


class ScratchForm(HappeningForm):
    """A wagon goes out of the show."""

    what = What.SCRATCHED
    title = "A wagon is scratched"
    lead = (
        "It is scratched at once and the panel is mended; its visits are called off, and the "
        "others change only once you announce it."
    )
    act = "Scratch it and work out new times"

    entry = _entry()

    def __init__(self, data: Any = None, *, show: Show) -> None:
        super().__init__(data, show=show)
        self.fields["reason"].required = True
        self.fields["reason"].error_messages["required"] = "Why is it scratched?"


class AgainForm(HappeningForm):
    """Nothing new has happened; the day has just drifted."""

    what = What.DRIFT
    title = "The day has drifted"
    lead = "Nothing new happened; plan what is left from where everybody is now."


FORMS: tuple[type[HappeningForm], ...] = (
    LateForm,
    GoneForm,
    CrewForm,
    StopForm,
    ScratchForm,
    AgainForm,
)

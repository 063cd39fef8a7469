"""What the office types on the page of the window."""

from __future__ import annotations

from datetime import datetime, timedelta
from typing import Any

from django import forms

from entries.models import Entry
from entries.rules.places import Status
from judging.actions.set_day import DAY_FIELDS
from judging.models import DayRules, Judge
from showrun.shows.models import Show
from showrun.shows.web.office_form import OfficeForm

WHOLE = {"required": "A whole number, please.", "invalid": "A whole number, please."}
NOT_NEGATIVE = {**WHOLE, "min_value": "Zero or more, please."}
LONGEST_GRACE = 24 * 60  # min
CLOCK = {"invalid": "A time such as 12:15, please."}


def _clock(label: str, hint: str = "", *, required: bool = False) -> forms.TimeField:
    return forms.TimeField(
        label=label,
        help_text=hint,
        required=required,
        widget=forms.TimeInput(format="%H:%M", attrs={"type": "time"}),
        error_messages={**CLOCK, "required": "When?"},
    )


def _minutes(label: str, hint: str, most: int) -> forms.IntegerField:
    return forms.IntegerField(
        label=label,
        help_text=hint,
        min_value=0,
        max_value=most,
        error_messages={**NOT_NEGATIVE, "max_value": f"At most {most}, please."},
    )


class DayForm(OfficeForm):
    """How the judging goes: style, minutes beside the sections', the break, the spread, the sun."""

    prefix = "day"

    style = forms.ChoiceField(label="Judges", choices=DayRules.STYLES)
    talk_minutes = _minutes("Talk with the crew", "Minutes added to every visit.", 60)
    settling_minutes = _minutes("Setting down", "Minutes added to every visit.", 60)
    break_minutes = _minutes("Break of each judge", "Minutes in one piece; 0 for none.", 240)
    break_from = _clock("Break not before", "Empty: from the start.")
    break_until = _clock("Break over by", "Empty: until the close.")
    fair_ends = forms.BooleanField(
        label="Spread first and last stops over the wagons", required=False
    )
    visit_spread_percent = _minutes("Spread of a visit", "Per cent of its length.", 200)
    pace_spread_percent = _minutes("Spread of the day's pace", "Per cent.", 100)
    grace_minutes = _minutes(
        "Grace after the window",
        "Minutes. What a judge touches later than this waits for the office.",
        LONGEST_GRACE,
    )
    latitude = forms.FloatField(
        label="Latitude",
        help_text="Degrees north; for sunrise and sunset.",
        required=False,
        min_value=-90,
        max_value=90,
        error_messages={"invalid": "Degrees such as 39.7, please."},
    )
    longitude = forms.FloatField(
        label="Longitude",
        help_text="Degrees east; west is below zero.",
        required=False,
        min_value=-180,
        max_value=180,
        error_messages={"invalid": "Degrees such as -105.0, please."},
    )

    @staticmethod
    def first(rules: DayRules) -> dict[str, Any]:
        """Return what stands in the form before anything is typed."""
        return {name: getattr(rules, name) for name in DAY_FIELDS}


class PauseForm(OfficeForm):
    """Who cannot take part when."""

    prefix = "pause"

    who = forms.ChoiceField(label="Who", error_messages={"required": "Who?"})
    starts = _clock("From", required=True)
    ends = _clock("To", "Before the start: on the next morning.", required=True)
    why = forms.CharField(
        label="Why",
        help_text="Such as: cooks' meeting.",
        max_length=120,
        error_messages={"required": "Say why, in a few words."},
    )

    def __init__(self, *args: Any, show: Show, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.show = show
        judges = Judge.objects.filter(show=show).select_related("person")
        entries = Entry.objects.filter(show=show, status=Status.CONFIRMED.value)
        self.judges = {f"judge-{judge.pk}": judge for judge in judges}
        self.entries = {f"entry-{entry.pk}": entry for entry in entries.order_by("number")}
        who = self.fields["who"]
        assert isinstance(who, forms.ChoiceField)
        who.choices = [
            ("all", "everybody"),
            *((key, f"{judge.person.name} ({judge.code})") for key, judge in self.judges.items()),
            *((key, f"crew of {entry}") for key, entry in self.entries.items()),
        ]

    @property
    def span(self) -> tuple[datetime, datetime]:
        """When it begins and ends, on the day the window opens."""
        day = self.show.judging_starts_at.astimezone(self.show.tz).date()
        starts, ends = self.cleaned_data["starts"], self.cleaned_data["ends"]
        until = day if ends > starts else day + timedelta(days=1)
        zone = self.show.tz
        return datetime.combine(day, starts, zone), datetime.combine(until, ends, zone)


class AskForm(OfficeForm):
    """How long a worker may look for a shorter plan."""

    prefix = "ask"

    limit_s = forms.TypedChoiceField(
        label="Look for",
        choices=[(10, "10 seconds"), (30, "30 seconds"), (120, "2 minutes"), (300, "5 minutes")],
        coerce=int,
        initial=30,
    )


class HoldForm(OfficeForm):
    """What the window is to hold."""

    hold = forms.ChoiceField(
        label="The window is to hold",
        choices=[
            ("likely", "what nine days of ten need"),
            ("plan", "the shortest plan alone"),
        ],
        initial="likely",
    )

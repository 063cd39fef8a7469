"""What the office types on the page of the window."""

from __future__ import annotations

from datetime import datetime, timedelta
from typing import Any

from django import forms
from django.utils.text import format_lazy
from django.utils.translation import gettext_lazy

from entries.models import Entry
from entries.rules.places import Status
from judging.actions.set_day import DAY_FIELDS
from judging.models import DayRules, Judge
from showrun.language import gettext as _
from showrun.language import gettext_noop as N_
from showrun.shows.models import Show
from showrun.shows.web.office_form import OfficeForm

WHOLE = {
    "required": gettext_lazy("A whole number, please."),
    "invalid": gettext_lazy("A whole number, please."),
}
NOT_NEGATIVE = {**WHOLE, "min_value": gettext_lazy("Zero or more, please.")}
LONGEST_GRACE = 24 * 60  # min
CLOCK = {"invalid": gettext_lazy("A time such as 12:15, please.")}


def _clock(label: str, hint: str = "", *, required: bool = False) -> forms.TimeField:
    return forms.TimeField(
        label=gettext_lazy(label),
        help_text=gettext_lazy(hint),
        required=required,
        widget=forms.TimeInput(format="%H:%M", attrs={"type": "time"}),
        error_messages={**CLOCK, "required": gettext_lazy("When?")},
    )


def _minutes(label: str, hint: str, most: int) -> forms.IntegerField:
    return forms.IntegerField(
        label=gettext_lazy(label),
        help_text=gettext_lazy(hint),
        min_value=0,
        max_value=most,
        error_messages={
            **NOT_NEGATIVE,
            "max_value": format_lazy(gettext_lazy("At most {most}, please."), most=most),
        },
    )


class DayForm(OfficeForm):
    """How the judging goes: style, minutes beside the sections', the break, the spread, the sun."""

    prefix = "day"

    style = forms.ChoiceField(label=gettext_lazy("Judges"), choices=DayRules.STYLES)
    talk_minutes = _minutes(N_("Talk with the crew"), N_("Minutes added to every visit."), 60)
    settling_minutes = _minutes(N_("Setting down"), N_("Minutes added to every visit."), 60)
    break_minutes = _minutes(
        N_("Break of each judge"), N_("Minutes in one piece; 0 for none."), 240
    )
    break_from = _clock(N_("Break not before"), N_("Empty: from the start."))
    break_until = _clock(N_("Break over by"), N_("Empty: until the close."))
    fair_ends = forms.BooleanField(
        label=gettext_lazy("Spread first and last stops over the wagons"), required=False
    )
    visit_spread_percent = _minutes(N_("Spread of a visit"), N_("Per cent of its length."), 200)
    pace_spread_percent = _minutes(N_("Spread of the day's pace"), N_("Per cent."), 100)
    grace_minutes = _minutes(
        N_("Grace after the window"),
        N_("Minutes. What a judge touches later than this waits for the office."),
        LONGEST_GRACE,
    )
    latitude = forms.FloatField(
        label=gettext_lazy("Latitude"),
        help_text=gettext_lazy("Degrees north; for sunrise and sunset."),
        required=False,
        min_value=-90,
        max_value=90,
        error_messages={"invalid": gettext_lazy("Degrees such as 39.7, please.")},
    )
    longitude = forms.FloatField(
        label=gettext_lazy("Longitude"),
        help_text=gettext_lazy("Degrees east; west is below zero."),
        required=False,
        min_value=-180,
        max_value=180,
        error_messages={"invalid": gettext_lazy("Degrees such as -105.0, please.")},
    )

    @staticmethod
    def first(rules: DayRules) -> dict[str, Any]:
        """Return what stands in the form before anything is typed."""
        return {name: getattr(rules, name) for name in DAY_FIELDS}


class PauseForm(OfficeForm):
    """Who cannot take part when."""

    prefix = "pause"

    who = forms.ChoiceField(
        label=gettext_lazy("Who"), error_messages={"required": gettext_lazy("Who?")}
    )
    starts = _clock(N_("From"), required=True)
    ends = _clock(N_("To"), N_("Before the start: on the next morning."), required=True)
    why = forms.CharField(
        label=gettext_lazy("Why"),
        help_text=gettext_lazy("Such as: cooks' meeting."),
        max_length=120,
        error_messages={"required": gettext_lazy("Say why, in a few words.")},
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
            *(
                (key, _("crew of {entry}").format(entry=entry.called))
                for key, entry in self.entries.items()
            ),
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
        label=gettext_lazy("Look for"),
        choices=[
            (10, gettext_lazy("10 seconds")),
            (30, gettext_lazy("30 seconds")),
            (120, gettext_lazy("2 minutes")),
            (300, gettext_lazy("5 minutes")),
        ],
        coerce=int,
        initial=30,
    )


class HoldForm(OfficeForm):
    """What the window is to hold."""

    hold = forms.ChoiceField(
        label=gettext_lazy("The window is to hold"),
        choices=[
            ("likely", gettext_lazy("what nine days of ten need")),
            ("plan", gettext_lazy("the shortest plan alone")),
        ],
        initial="likely",
    )

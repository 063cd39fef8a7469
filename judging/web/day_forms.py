"""What the office types when the day goes another way than planned."""

from __future__ import annotations

from datetime import datetime, time, timedelta
from typing import Any

from django import forms
from django.utils.functional import Promise
from django.utils.text import format_lazy
from django.utils.translation import gettext_lazy

from entries.models import Entry
from judging.actions.replan_day import Happening, What
from judging.models import Judge
from judging.web.choices import judge_field, wagon_field
from showrun.language import gettext as _
from showrun.language import gettext_noop as N_
from showrun.shows.models import Show
from showrun.shows.web.office_form import OfficeForm

LONGEST_MINUTES = 240


class HappeningForm(OfficeForm):
    """What one kind of form has in common: the show it is about, and what became of it."""

    what: What
    title: str | Promise = ""
    lead: str | Promise = ""
    act = gettext_lazy("Work out new times")

    reason = forms.CharField(
        label=gettext_lazy("Reason"),
        help_text=gettext_lazy("One sentence; it is told with the new times."),
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


def _clock(label: str) -> forms.TimeField:
    return forms.TimeField(
        label=gettext_lazy(label),
        error_messages={
            "required": gettext_lazy("What time, on the show's clock?"),
            "invalid": gettext_lazy("A time of day, such as 10:30."),
        },
        widget=forms.TimeInput(attrs={"type": "time"}, format="%H:%M"),
    )


class LateForm(HappeningForm):
    """A judge loses time."""

    what = What.LATE
    title = gettext_lazy("A judge is held up")
    lead = gettext_lazy("The judge ends the visit under way, then loses these minutes.")

    judge = judge_field()
    minutes = forms.IntegerField(
        label=gettext_lazy("Minutes lost"),
        min_value=1,
        max_value=LONGEST_MINUTES,
        error_messages={
            "required": gettext_lazy("How many minutes?"),
            "min_value": gettext_lazy("At least one minute."),
            "max_value": format_lazy(gettext_lazy("At most {most} minutes."), most=LONGEST_MINUTES),
        },
    )


class GoneForm(HappeningForm):
    """A judge goes home."""

    what = What.GONE
    title = gettext_lazy("A judge is gone")
    lead = gettext_lazy(
        "Cards handed in still count. The judge is taken off at once and the panel is mended; "
        "the times change only once you announce them."
    )
    act = gettext_lazy("Take the judge off and work out new times")

    judge = judge_field()

    def __init__(self, data: Any = None, *, show: Show) -> None:
        super().__init__(data, show=show)
        self.fields["reason"].required = True
        self.fields["reason"].error_messages["required"] = _("Why does the judge leave?")


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
            self.add_error("ends", _("It ends after it begins."))
        return cleaned

    def _moment(self, clock: time) -> datetime:
        """A window may run past midnight: what lies before its opening is on the next day."""
        opens = self.show.judging_starts_at.astimezone(self.show.tz)
        moment = datetime.combine(opens.date(), clock, tzinfo=self.show.tz)
        return moment if moment >= opens - timedelta(hours=6) else moment + timedelta(days=1)


class CrewForm(_SpanForm):
    """A crew is away from its wagon."""

    what = What.CREW
    title = gettext_lazy("A crew is away")
    lead = gettext_lazy("Nobody visits the wagon in this time.")

    entry = wagon_field()
    begins = _clock(N_("From"))
    ends = _clock(N_("To"))


class StopForm(_SpanForm):
    """All judging stands still."""

    what = What.STOP
    title = gettext_lazy("Everybody stops")
    lead = gettext_lazy("No visit takes place in this time, and nobody walks.")

    begins = _clock(N_("From"))
    ends = _clock(N_("To"))


class ScratchForm(HappeningForm):
    """A wagon goes out of the show."""

    what = What.SCRATCHED
    title = gettext_lazy("A wagon is scratched")
    lead = gettext_lazy(
        "It is scratched at once and the panel is mended; its visits are called off, and the "
        "others change only once you announce it."
    )
    act = gettext_lazy("Scratch it and work out new times")

    entry = wagon_field()

    def __init__(self, data: Any = None, *, show: Show) -> None:
        super().__init__(data, show=show)
        self.fields["reason"].required = True
        self.fields["reason"].error_messages["required"] = _("Why is it scratched?")


class AgainForm(HappeningForm):
    """Nothing new has happened; the day has just drifted."""

    what = What.DRIFT
    title = gettext_lazy("The day has drifted")
    lead = gettext_lazy("Nothing new happened; plan what is left from where everybody is now.")


FORMS: tuple[type[HappeningForm], ...] = (
    LateForm,
    GoneForm,
    CrewForm,
    StopForm,
    ScratchForm,
    AgainForm,
)

"""What is typed at food rounds, at the turn-in table and into the temperature log."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

from django import forms
from django.utils.translation import gettext_lazy

from entries.models import Entry
from judging.actions.food_rounds import LONGEST_DISH, LONGEST_MINUTES, LONGEST_REASON
from judging.actions.food_temperatures import LONGEST_FOOD, LONGEST_NAME
from judging.models import FoodRound, Judge, TemperatureReading
from judging.queries.food import FoodBook, judges_at
from judging.rules.food.temperatures import TENTH_F, fahrenheit
from judging.rules.food.turn_in import LATE_RULES, WINDOW_MINUTES
from judging.web.setup_forms import email_field, name_field
from showrun.language import gettext_noop as N_
from showrun.shows.models import Show, ShowClass
from showrun.shows.web.office_form import OfficeForm

NUMBER = {
    "required": gettext_lazy("A whole number, please."),
    "invalid": gettext_lazy("A whole number, please."),
}
DEGREES = {
    "required": gettext_lazy("The reading, please."),
    "invalid": gettext_lazy("A number such as 138.5, please."),
}


class RoundForm(OfficeForm):
    """One dish of one class: when it is turned in, and who tastes how many."""

    show_class = forms.ModelChoiceField(
        ShowClass.objects.none(),
        label=gettext_lazy("Class"),
        empty_label=None,
        error_messages={
            "required": gettext_lazy("Which class?"),
            "invalid_choice": gettext_lazy("Choose a class."),
        },
    )
    dish = forms.CharField(
        label=gettext_lazy("Dish"),
        help_text=gettext_lazy("Such as beans, bread or meat. One round for each."),
        max_length=LONGEST_DISH,
        error_messages={"required": gettext_lazy("Which dish, please?")},
        widget=forms.TextInput(attrs={"autocomplete": "off"}),
    )
    posted_at = forms.DateTimeField(
        label=gettext_lazy("Posted turn-in time"),
        help_text=gettext_lazy("On the show's clock."),
        widget=forms.DateTimeInput(format="%Y-%m-%dT%H:%M", attrs={"type": "datetime-local"}),
        error_messages={
            "required": gettext_lazy("When is the dish turned in?"),
            "invalid": gettext_lazy("A day and a time, please."),
        },
    )
    window_minutes = forms.IntegerField(
        label=gettext_lazy("Minutes before and after"),
        help_text=gettext_lazy("The turn-in window to each side of the posted time."),
        min_value=0,
        max_value=LONGEST_MINUTES,
        error_messages=NUMBER,
    )
    grace_minutes = forms.IntegerField(
        label=gettext_lazy("Grace, in minutes"),
        help_text=gettext_lazy("After the window; taken, and noted without any consequence."),
        min_value=0,
        max_value=LONGEST_MINUTES,
        error_messages=NUMBER,
    )
    late = forms.ChoiceField(
        label=gettext_lazy("Later than that"),
        choices=[(rule.value, gettext_lazy(words)) for rule, words in LATE_RULES.items()],
        widget=forms.RadioSelect,
    )
    palate_limit = forms.IntegerField(
        label=gettext_lazy("Palate limit"),
        help_text=gettext_lazy(
            "Dishes each judge tastes. Common practice, no source: a handful in a sitting."
        ),
        min_value=1,
        max_value=200,
        error_messages=NUMBER,
    )
    judges = forms.ModelMultipleChoiceField(
        Judge.objects.none(),
        label=gettext_lazy("Judges at the table"),
        widget=forms.CheckboxSelectMultiple,
        error_messages={"required": gettext_lazy("Choose the judges at the table.")},
    )

    def __init__(self, data: Any, *, show: Show, food: FoodRound | None = None) -> None:
        given: dict[str, Any] = {
            "window_minutes": WINDOW_MINUTES,
            "grace_minutes": 0,
            "late": "refused",
            "palate_limit": 5,
            "posted_at": show.judging_starts_at,
        }
        if food:
            given = {name: getattr(food, name) for name in given}
            given |= {"show_class": food.show_class_id, "dish": food.dish}
            given["judges"] = [judge.pk for judge in judges_at(food)]
        super().__init__(data, initial=given)
        of, judges = self.fields["show_class"], self.fields["judges"]
        assert isinstance(of, forms.ModelChoiceField)
        assert isinstance(judges, forms.ModelMultipleChoiceField)
        of.queryset = ShowClass.objects.filter(show=show)
        here = Judge.objects.filter(show=show, left_at__isnull=True)
        judges.queryset = here.select_related("person")


class KeyHolderForm(OfficeForm):
    """Who holds the key of the show."""

    prefix = "key"

    name = name_field(N_("key holder"))
    email = email_field(
        N_("key holder"),
        such_as="key@example.org",
        help_text=N_(
            "Somebody who neither runs the office, judges, signs results nor has entered."
        ),
    )


class ReadingForm(OfficeForm):
    """One line of the temperature log."""

    prefix = "log"

    figure = forms.ChoiceField(label=gettext_lazy("What is measured"))
    food = forms.CharField(
        label=gettext_lazy("Food and place"),
        help_text=gettext_lazy("Such as: beans, middle of the pot."),
        max_length=LONGEST_FOOD,
        error_messages={"required": gettext_lazy("Which food?")},
        widget=forms.TextInput(attrs={"autocomplete": "off"}),
    )
    reading = forms.DecimalField(
        label=gettext_lazy("Reading"),
        max_digits=6,
        decimal_places=1,
        error_messages=DEGREES,
        widget=forms.NumberInput(attrs={"inputmode": "decimal", "step": "0.1"}),
    )
    scale = forms.ChoiceField(
        label=gettext_lazy("Scale"), choices=[("f", "°F"), ("c", "°C")], initial="f"
    )
    entry = forms.ModelChoiceField(
        Entry.objects.none(),
        label=gettext_lazy("Wagon"),
        empty_label=gettext_lazy("none in particular"),
        required=False,
        error_messages={"invalid_choice": gettext_lazy("Choose a wagon of this show.")},
    )
    corrects = forms.ModelChoiceField(
        TemperatureReading.objects.none(),
        label=gettext_lazy("Corrects"),
        empty_label=gettext_lazy("nothing; a new reading"),
        required=False,
        error_messages={"invalid_choice": gettext_lazy("Choose a line that is not corrected yet.")},
    )
    reason = forms.CharField(
        label=gettext_lazy("Why it is corrected"),
        help_text=gettext_lazy("Only for a correction. The old line stays."),
        max_length=LONGEST_REASON,
        required=False,
    )

    def __init__(self, data: Any, *, show: Show, book: FoodBook) -> None:
        super().__init__(data)
        figure, entry = self.fields["figure"], self.fields["entry"]
        corrects = self.fields["corrects"]
        assert isinstance(figure, forms.ChoiceField)
        assert isinstance(entry, forms.ModelChoiceField)
        assert isinstance(corrects, forms.ModelChoiceField)
        figure.choices = [(one.code, one.sentence) for one in book.figures.values()]
        entry.queryset = Entry.objects.confirmed().filter(show=show)
        corrects.queryset = TemperatureReading.objects.filter(show=show, corrected_by__isnull=True)

    @property
    def reading_f(self) -> Decimal:
        """The reading [degrees Fahrenheit]."""
        reading: Decimal = self.cleaned_data["reading"]
        return fahrenheit(reading) if self.cleaned_data["scale"] == "c" else reading


class FiguresForm(OfficeForm):
    """The temperatures that hold at the show, and whose they are."""

    prefix = "figures"

    edition = forms.CharField(
        label=gettext_lazy("Code and edition"),
        max_length=LONGEST_NAME,
        error_messages={"required": gettext_lazy("Which code, which edition?")},
    )
    authority = forms.CharField(
        label=gettext_lazy("Local authority"),
        help_text=gettext_lazy("Whose rules come first, such as the county's health department."),
        max_length=LONGEST_NAME,
        required=False,
    )

    def __init__(self, data: Any, *, book: FoodBook) -> None:
        given: dict[str, Any] = {"edition": book.edition, "authority": book.authority}
        super().__init__(data, initial=given | {c: f.limit_f for c, f in book.figures.items()})
        for code, figure in book.figures.items():
            self.fields[code] = forms.DecimalField(
                label=f"{figure.name}: {figure.kind.value}, °F",
                max_digits=5,
                decimal_places=1,
                error_messages=DEGREES,
                widget=forms.NumberInput(attrs={"step": str(TENTH_F)}),
            )
        self.codes = tuple(book.figures)

    @property
    def figures(self) -> dict[str, Decimal]:
        """The figures typed [degrees Fahrenheit]."""
        return {code: self.cleaned_data[code] for code in self.codes}

"""An entry: one wagon with its rig and crew in one show."""

from __future__ import annotations

from django.db import models
from django.db.models import Q

from entries.models.camp import CampSpot
from entries.models.outfit import Outfit
from entries.models.rig_facts import RigFacts
from entries.rules.places import HOLDS_A_PLACE, Status
from showrun.shows.models import Person, Show, ShowClass


def entry_photo_name(entry: Entry, name: str) -> str:
    """Name the photo by its show and content; `name` is the content's hash."""
    return f"entries/{entry.show_id}/{name}"


class EntryQuerySet(models.QuerySet["Entry"]):
    """Entries by where they stand."""

    def holding_a_place(self) -> EntryQuerySet:
        return self.filter(status__in=[s.value for s in HOLDS_A_PLACE])

    def confirmed(self) -> EntryQuerySet:
        return self.filter(status=Status.CONFIRMED.value)

    def waiting(self) -> EntryQuerySet:
        """Those on the wait list, in its order."""
        return self.filter(status=Status.WAITING.value).order_by("id")


class Entry(RigFacts):
    """One wagon in one show. The id's order is the order of entering."""

    REASON_MAX = 200

    show = models.ForeignKey(Show, on_delete=models.PROTECT, related_name="+")
    exhibitor = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")
    number = models.PositiveIntegerField(null=True, blank=True)
    wagon_name = models.CharField(max_length=80)
    outfit = models.CharField(max_length=80, blank=True)
    history = models.TextField(blank=True)
    status = models.CharField(max_length=20, choices=[(s.value, s.value) for s in Status])
    status_reason = models.CharField(max_length=REASON_MAX, blank=True)
    spot = models.OneToOneField(
        CampSpot, null=True, blank=True, on_delete=models.PROTECT, related_name="+"
    )
    entered_at = models.DateTimeField()
    kept_outfit = models.ForeignKey(
        Outfit, null=True, blank=True, on_delete=models.PROTECT, related_name="+"
    )
    frontage_ft = models.PositiveIntegerField(null=True, blank=True, help_text="Of the camp.")
    depth_ft = models.PositiveIntegerField(null=True, blank=True, help_text="Of the camp.")
    dietary_notes = models.TextField(blank=True)
    emergency_name = models.CharField(max_length=120, blank=True)
    emergency_phone = models.CharField(max_length=40, blank=True)
    waiver_version = models.PositiveIntegerField(null=True, blank=True, help_text="Agreed to.")
    waiver_agreed_at = models.DateTimeField(null=True, blank=True)
    waiver_agreed_by = models.CharField(max_length=120, blank=True, help_text="As typed.")
    photo = models.FileField(upload_to=entry_photo_name, max_length=160, blank=True)
    offered_at = models.DateTimeField(null=True, blank=True, help_text="Promoted from the list.")
    take_up_by = models.DateTimeField(null=True, blank=True)
    left_at = models.DateTimeField(null=True, blank=True, help_text="The show, when scratched.")

    objects = EntryQuerySet.as_manager()

    class Meta:
        ordering = ("number", "id")
        verbose_name_plural = "entries"
        constraints = (
            models.UniqueConstraint(
                fields=["show", "number"],
                condition=Q(number__isnull=False),
                name="entry_number_once_a_show",
            ),
            models.CheckConstraint(
                condition=Q(number__isnull=False) | ~Q(status=Status.CONFIRMED.value),
                name="confirmed_entry_has_number",
            ),
            models.CheckConstraint(
                condition=Q(take_up_by__isnull=False) | ~Q(status=Status.OFFERED.value),
                name="offered_place_has_deadline",
            ),
        )

    def __str__(self) -> str:
        return f"{self.number}. {self.wagon_name}" if self.number else self.wagon_name

    @property
    def called(self) -> str:
        """How a sentence calls the wagon: as a list does, without the stop that would end it."""
        return f"{self.number} {self.wagon_name}" if self.number else self.wagon_name


class EntryClass(models.Model):
    """A class an entry takes part in."""

    entry = models.ForeignKey(Entry, on_delete=models.CASCADE, related_name="classes")
    show_class = models.ForeignKey(ShowClass, on_delete=models.PROTECT, related_name="+")

    class Meta:
        constraints = (
            models.UniqueConstraint(fields=["entry", "show_class"], name="entry_once_a_class"),
        )

    def __str__(self) -> str:
        return f"{self.entry} in {self.show_class}"

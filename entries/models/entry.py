"""An entry: one wagon with its rig and crew in one show."""

from __future__ import annotations

from django.db import models
from django.db.models import Q

from entries.models.camp import CampSpot
from entries.rules.eligibility import CREW_ROLES
from entries.rules.places import HOLDS_A_PLACE, Status
from entries.rules.rig import FACTS, WORDS, Rig
from showrun.shows.models import Person, Show, ShowClass


def _fact(name: str) -> models.CharField[str, str]:
    choices = [(member.value, WORDS[member.value]) for member in FACTS[name]]
    return models.CharField(WORDS[name], max_length=20, choices=choices)


class EntryQuerySet(models.QuerySet["Entry"]):
    """Entries by where they stand."""

    def holding_a_place(self) -> EntryQuerySet:
        return self.filter(status__in=[s.value for s in HOLDS_A_PLACE])

    def confirmed(self) -> EntryQuerySet:
        return self.filter(status=Status.CONFIRMED.value)

    def waiting(self) -> EntryQuerySet:
        """Those on the wait list, in its order."""
        return self.filter(status=Status.WAITING.value).order_by("id")


class Entry(models.Model):
    """One wagon in one show. The id's order is the order of entering."""

    show = models.ForeignKey(Show, on_delete=models.PROTECT, related_name="+")
    exhibitor = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")
    number = models.PositiveIntegerField(null=True, blank=True)
    wagon_name = models.CharField(max_length=80)
    outfit = models.CharField(max_length=80, blank=True)
    history = models.TextField(blank=True)
    tongue = _fact("tongue")
    hitch = _fact("hitch")
    draft = _fact("draft")
    pattern = _fact("pattern")
    holdback = _fact("holdback")
    status = models.CharField(max_length=20, choices=[(s.value, s.value) for s in Status])
    status_reason = models.CharField(max_length=200, blank=True)
    spot = models.OneToOneField(
        CampSpot, null=True, blank=True, on_delete=models.PROTECT, related_name="+"
    )
    entered_at = models.DateTimeField()

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
        )

    def __str__(self) -> str:
        return f"{self.number}. {self.wagon_name}" if self.number else self.wagon_name

    @property
    def rig(self) -> Rig:
        """The rig as the rules know it."""
        return Rig.read({name: getattr(self, name) for name in FACTS})


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


class CrewMember(models.Model):
    """One of an entry's crew."""

    entry = models.ForeignKey(Entry, on_delete=models.CASCADE, related_name="crew")
    name = models.CharField(max_length=120)
    role = models.CharField(max_length=20, choices=list(CREW_ROLES.items()))

    class Meta:
        ordering = ("id",)

    def __str__(self) -> str:
        return f"{self.name} ({self.get_role_display()})"

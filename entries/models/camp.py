"""Camp spots on the ground's plan, in feet."""

from django.db import models

from showrun.shows.models import Show


class CampSpot(models.Model):
    """Where one wagon camps; its place on the plan gives the walking times."""

    show = models.ForeignKey(Show, on_delete=models.CASCADE, related_name="+")
    number = models.PositiveIntegerField()
    x_ft = models.FloatField()
    y_ft = models.FloatField()
    frontage_ft = models.PositiveIntegerField(default=50)

    class Meta:
        ordering = ("number",)
        constraints = (
            models.UniqueConstraint(fields=["show", "number"], name="camp_spot_number_once"),
        )

    def __str__(self) -> str:
        return f"camp spot {self.number}"

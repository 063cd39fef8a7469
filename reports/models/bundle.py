"""What a bundle of papers holds, in its order."""

from __future__ import annotations

from django.db import models

from reports.models.paper import Paper


class BundlePart(models.Model):
    """One finished paper in a bundle or a book; written when the bundle is wanted."""

    bundle = models.ForeignKey(Paper, on_delete=models.CASCADE, related_name="+")
    paper = models.ForeignKey(Paper, on_delete=models.PROTECT, related_name="+")
    position = models.PositiveIntegerField()

    class Meta:
        ordering = ("position",)
        constraints = (
            models.UniqueConstraint(fields=["bundle", "paper"], name="paper_once_a_bundle"),
            models.UniqueConstraint(fields=["bundle", "position"], name="bundle_place_once"),
        )

    def __str__(self) -> str:
        return f"{self.position}. {self.paper}"

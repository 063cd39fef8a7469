"""The facts of a rig as columns, alike for an outfit that is kept and for an entry."""

from __future__ import annotations

from django.db import models

from entries.rules.rig import FACTS, WORDS, Rig


def _fact(name: str) -> models.CharField[str, str]:
    """Make the column of one fact, with its values as the rules name them."""
    choices = [(member.value, WORDS[member.value]) for member in FACTS[name]]
    return models.CharField(WORDS[name], max_length=20, choices=choices)


class RigFacts(models.Model):
    """What has a rig."""

    tongue = _fact("tongue")
    hitch = _fact("hitch")
    draft = _fact("draft")
    pattern = _fact("pattern")
    holdback = _fact("holdback")

    class Meta:
        abstract = True

    @property
    def rig(self) -> Rig:
        """The rig as the rules know it."""
        return Rig.read({name: getattr(self, name) for name in FACTS})

"""A fact of a rig as a column."""

from __future__ import annotations

from django.db import models

from entries.rules.rig import FACTS, WORDS


def rig_fact(name: str) -> models.CharField[str, str]:
    """Make the column of one fact, with its values as the rules name them."""
    choices = [(member.value, WORDS[member.value]) for member in FACTS[name]]
    return models.CharField(WORDS[name], max_length=20, choices=choices)

"""Papers as JSON."""

from __future__ import annotations

from typing import Any

from django.urls import reverse
from rest_framework import serializers

from reports.models import Paper
from reports.queries.papers import is_replaced
from showrun.shows.api.lists import PageAsked


class PapersAsked(PageAsked):
    """Which papers are wanted."""

    state = serializers.ChoiceField(choices=Paper.State.choices, required=False, default=None)
    kind = serializers.ChoiceField(choices=Paper.Kind.choices, required=False, default=None)


class PaperOut(serializers.Serializer[Paper]):
    """One paper and how far it is."""

    id = serializers.IntegerField()
    kind = serializers.ChoiceField(choices=Paper.Kind.choices)
    state = serializers.ChoiceField(choices=Paper.State.choices)
    show_class = serializers.CharField(source="show_class.code", allow_null=True)
    entry = serializers.IntegerField(source="entry_id", allow_null=True)
    entry_number = serializers.IntegerField(source="entry.number", allow_null=True)
    version = serializers.IntegerField(
        help_text="Of the result; of a wall sheet, the announcement's number."
    )
    replaced = serializers.SerializerMethodField()
    code = serializers.CharField(source="code_printed")
    pages = serializers.IntegerField(allow_null=True)
    sha256 = serializers.CharField(source="content_hash", allow_blank=True)
    error = serializers.CharField(allow_blank=True)
    wanted_at = serializers.DateTimeField()
    done_at = serializers.DateTimeField(allow_null=True)
    file = serializers.SerializerMethodField()

    def get_replaced(self, paper: Paper) -> bool:
        """Whether a later version of the result, or a later announcement, counts."""
        return is_replaced(paper)

    def get_file(self, paper: Paper) -> str | None:
        """Address of the file once it is there."""
        if paper.state != Paper.State.DONE:
            return None
        return reverse("reports:paper-file", args=[paper.pk])


class ProgressOut(serializers.Serializer[Any]):
    """How far the papers of the released results are."""

    done = serializers.IntegerField()
    total = serializers.IntegerField()
    failed = serializers.IntegerField()
    cancelled = serializers.IntegerField()
    unfinished = serializers.IntegerField()


class PapersOut(serializers.Serializer[Any]):
    """A show's papers with their progress."""

    progress = ProgressOut()
    papers = PaperOut(many=True)

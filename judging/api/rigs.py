"""Rigs found other than they were entered, for programs of the office."""

from __future__ import annotations

from django.utils import timezone
from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from judging.actions.settle_rig import adopt_rig, decline_rig
from judging.models import RigReport
from judging.queries.rigs import facts_of, rig_reports
from showrun.errors import NotFound
from showrun.shows.api.body import read_body
from showrun.shows.api.described import example, refuses
from showrun.shows.api.lists import PageAsked, page_of, read_asked
from showrun.shows.api.once import once
from showrun.shows.api.view import View
from showrun.shows.queries import demand, person_of, show_for
from showrun.shows.rules.access import Deed


class RigReportOut(serializers.Serializer):
    """What a judge found, and what the office did about it."""

    id = serializers.IntegerField()
    entry = serializers.IntegerField(source="entry.number", allow_null=True)
    entry_id = serializers.IntegerField()
    judge = serializers.CharField(source="judge.code")
    entered = serializers.SerializerMethodField()
    found = serializers.SerializerMethodField()
    text = serializers.CharField()
    reported_at = serializers.DateTimeField()
    state = serializers.ChoiceField(choices=RigReport.State.values)
    settled_at = serializers.DateTimeField(allow_null=True)
    note = serializers.CharField(source="settled_note")

    def get_entered(self, report: RigReport) -> dict[str, str]:
        return facts_of(report.entered)

    def get_found(self, report: RigReport) -> dict[str, str]:
        return facts_of(report.facts)


@example({"verdict": "decline", "note": "The pole strap was in the box."})
class RigVerdictIn(serializers.Serializer):
    """Whether the rig is as the judge found it; a reason is needed to decline."""

    verdict = serializers.ChoiceField(choices=["adopt", "decline"])
    note = serializers.CharField(max_length=300, allow_blank=True, default="")


class RigReports(View):
    """The rigs of a show that judges found different, newest first."""

    @extend_schema(parameters=[PageAsked], responses=RigReportOut(many=True))
    @refuses("not-allowed")
    def get(self, request: Request, slug: str) -> Response:
        show = show_for(request.user, slug, Deed.SEE_OFFICE)
        page, headers = page_of(rig_reports(show), request, read_asked(PageAsked, request))
        return Response(RigReportOut(page, many=True).data, headers=headers)


class SettleRig(View):
    """Adopt a rig as it was found, or leave it as it was entered."""

    @extend_schema(request=RigVerdictIn, responses=RigReportOut)
    @refuses("not-allowed", "rig-settled")
    @once
    def post(self, request: Request, report_id: int) -> Response:
        reports = RigReport.objects.select_related("judge__show", "judge__person", "entry")
        report = reports.filter(pk=report_id).first()
        if report is None:
            raise NotFound()
        demand(request.user, Deed.SETTLE, report.judge.show)
        given = read_body(RigVerdictIn, request)
        settle = adopt_rig if given["verdict"] == "adopt" else decline_rig
        settled = settle(
            report=report, note=given["note"], by=person_of(request.user), at=timezone.now()
        )
        return Response(RigReportOut(settled).data)

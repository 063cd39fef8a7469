"""The rules of the day, pauses, and plans a worker looks for, for programs of the office."""

from __future__ import annotations

from django.utils import timezone
from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from entries.models import Entry
from judging.actions.plan_jobs import LONGEST_S, ask_for_plan, leave_plan, stop, use_plan
from judging.actions.set_day import add_pause, drop_pause, set_day
from judging.api.serializers import WindowOut
from judging.models import DayRules, Judge, Pause, PlanJob
from judging.queries.plan import day_rules, jobs_of, pauses_of
from judging.tasks import queue_plan
from showrun.errors import NotFound
from showrun.language import gettext as _
from showrun.shows.api.body import read_body
from showrun.shows.api.described import example, refuses
from showrun.shows.api.lists import PageAsked, page_of, read_asked
from showrun.shows.api.once import once
from showrun.shows.api.view import View, as_it_was
from showrun.shows.queries import demand, person_of, show_for
from showrun.shows.rules.access import Deed


class DayOut(serializers.ModelSerializer):
    """The rules of the judging day."""

    class Meta:
        model = DayRules
        exclude = ("id", "show")


@example({"talk_minutes": 3, "settling_minutes": 2})
class DayIn(serializers.ModelSerializer):
    """Rules to set; those left out stay as they are."""

    class Meta:
        model = DayRules
        exclude = ("id", "show")
        extra_kwargs = {
            name: {"required": False}
            for name in ("style", "fair_ends", "visit_spread_percent", "pace_spread_percent")
        }


class PauseOut(serializers.Serializer):
    """Who cannot take part when; without judge and entry, everybody."""

    id = serializers.IntegerField()
    judge = serializers.CharField(source="judge.code", default=None, allow_null=True)
    entry = serializers.IntegerField(source="entry.number", default=None, allow_null=True)
    starts_at = serializers.DateTimeField()
    ends_at = serializers.DateTimeField()
    why = serializers.CharField()


@example(
    {
        "judge": "J1",
        "starts_at": "2027-05-15T12:00:00-06:00",
        "ends_at": "2027-05-15T12:30:00-06:00",
        "why": "A call.",
    }
)
class PauseIn(serializers.Serializer):
    """A pause to note: a judge's by code, a crew's by entry number, or everybody's."""

    judge = serializers.CharField(max_length=20, default="")
    entry = serializers.IntegerField(min_value=1, allow_null=True, default=None)
    starts_at = serializers.DateTimeField()
    ends_at = serializers.DateTimeField()
    why = serializers.CharField(max_length=120)


class StepOut(serializers.Serializer):
    """A plan found on the way."""

    seconds = serializers.FloatField()
    minutes = serializers.IntegerField()
    bound = serializers.IntegerField()


class PlanOut(serializers.Serializer):
    """A plan a worker looks for, and what came of it."""

    id = serializers.IntegerField()
    kind = serializers.ChoiceField(choices=PlanJob.Kind.choices)
    state = serializers.ChoiceField(choices=PlanJob.State.choices)
    asked_at = serializers.DateTimeField()
    finished_at = serializers.DateTimeField(allow_null=True)
    limit_s = serializers.IntegerField()
    stop_wanted = serializers.BooleanField()
    said = serializers.CharField()
    progress = StepOut(many=True)
    makespan = serializers.IntegerField(source="result.makespan", default=None, allow_null=True)
    bound = serializers.IntegerField(source="result.bound", default=None, allow_null=True)
    proven = serializers.BooleanField(source="result.proven", default=None, allow_null=True)


@example({"limit_s": 30})
class PlanIn(serializers.Serializer):
    """How long a worker may look."""

    limit_s = serializers.IntegerField(min_value=1, max_value=LONGEST_S, default=30)


def _job(request: Request, job_id: int, deed: Deed) -> PlanJob:
    job = PlanJob.objects.select_related("show").filter(pk=job_id).first()
    if job is None:
        raise NotFound()
    demand(request.user, deed, job.show)
    return job


class TheDay(View):
    """The rules of the judging day: see them, or set some."""

    @extend_schema(responses=DayOut)
    @refuses("not-allowed")
    def get(self, request: Request, slug: str) -> Response:
        show = show_for(request.user, slug, Deed.SEE_OFFICE)
        return Response(DayOut(day_rules(show)).data)

    @extend_schema(request=DayIn, responses=DayOut)
    @refuses("not-allowed", if_match="may")
    @once
    def post(self, request: Request, slug: str) -> Response:
        show = show_for(request.user, slug, Deed.RUN_WINDOW)
        given = read_body(DayIn, request)
        with as_it_was(request, show, lambda: DayOut(day_rules(show)).data):
            by, at = person_of(request.user), timezone.now()
            rules, _unused = set_day(show=show, rules=given, by=by, at=at)
        return Response(DayOut(rules).data)


class Pauses(View):
    """Who cannot take part when: see it, or note a pause."""

    @extend_schema(parameters=[PageAsked], responses=PauseOut(many=True))
    @refuses("not-allowed")
    def get(self, request: Request, slug: str) -> Response:
        show = show_for(request.user, slug, Deed.SEE_OFFICE)
        page, headers = page_of(pauses_of(show), request, read_asked(PageAsked, request))
        return Response(PauseOut(page, many=True).data, headers=headers)

    @extend_schema(request=PauseIn, responses={201: PauseOut})
    @refuses("not-allowed")
    @once
    def post(self, request: Request, slug: str) -> Response:
        show = show_for(request.user, slug, Deed.RUN_WINDOW)
        given = read_body(PauseIn, request)
        code, number = given.pop("judge"), given.pop("entry")
        judge = Judge.objects.filter(show=show, code=code).first() if code else None
        entry = Entry.objects.filter(show=show, number=number).first() if number else None
        if (code and judge is None) or (number and entry is None):
            raise NotFound(_("There is nobody of that name in this show."))
        pause, _unused = add_pause(
            show=show,
            judge=judge,
            entry=entry,
            by=person_of(request.user),
            at=timezone.now(),
            **given,
        )
        return Response(PauseOut(pause).data, status=201)


class DropPause(View):
    """Take a pause back."""

    @extend_schema(request=None, responses={204: None})
    @refuses("not-allowed")
    @once
    def post(self, request: Request, pause_id: int) -> Response:
        pause = Pause.objects.select_related("show").filter(pk=pause_id).first()
        if pause is None:
            raise NotFound()
        demand(request.user, Deed.RUN_WINDOW, pause.show)
        drop_pause(
            show=pause.show, pause_id=pause.pk, by=person_of(request.user), at=timezone.now()
        )
        return Response(status=204)


class Plans(View):
    """Plans looked for: see them, newest first, or ask for one."""

    @extend_schema(parameters=[PageAsked], responses=PlanOut(many=True))
    @refuses("not-allowed")
    def get(self, request: Request, slug: str) -> Response:
        show = show_for(request.user, slug, Deed.SEE_OFFICE)
        page, headers = page_of(jobs_of(show), request, read_asked(PageAsked, request))
        return Response(PlanOut(page, many=True).data, headers=headers)

    @extend_schema(request=PlanIn, responses={201: PlanOut})
    @refuses("not-allowed", "conflict", "not-yet")
    @once
    def post(self, request: Request, slug: str) -> Response:
        show = show_for(request.user, slug, Deed.RUN_WINDOW)
        job = ask_for_plan(
            show=show,
            kind=PlanJob.Kind.DRAW,
            case={},
            by=person_of(request.user),
            at=timezone.now(),
            **read_body(PlanIn, request),
        )
        queue_plan(job)
        return Response(PlanOut(job).data, status=201)


class OnePlan(View):
    """How far a plan is."""

    @extend_schema(responses=PlanOut)
    @refuses("not-allowed")
    def get(self, request: Request, job_id: int) -> Response:
        return Response(PlanOut(_job(request, job_id, Deed.SEE_OFFICE)).data)


class StopPlan(View):
    """End the search with what it has."""

    @extend_schema(request=None, responses=PlanOut)
    @refuses("not-allowed", "conflict")
    @once
    def post(self, request: Request, job_id: int) -> Response:
        job = _job(request, job_id, Deed.RUN_WINDOW)
        stop(job=job, by=person_of(request.user), at=timezone.now())
        job.refresh_from_db()
        return Response(PlanOut(job).data)


class UsePlan(View):
    """Make a found plan the window's."""

    @extend_schema(request=None, responses=WindowOut)
    @refuses("not-allowed", "conflict", "not-yet", "rotation-faulty", "stale")
    @once
    def post(self, request: Request, job_id: int) -> Response:
        job = _job(request, job_id, Deed.RUN_WINDOW)
        window = use_plan(show=job.show, job=job, by=person_of(request.user), at=timezone.now())
        return Response(WindowOut(window).data)


class LeavePlan(View):
    """Put a found plan aside."""

    @extend_schema(request=None, responses={204: None})
    @refuses("not-allowed", "conflict")
    @once
    def post(self, request: Request, job_id: int) -> Response:
        job = _job(request, job_id, Deed.RUN_WINDOW)
        leave_plan(show=job.show, job=job, by=person_of(request.user), at=timezone.now())
        return Response(status=204)

"""What the office does about questions beside answering them, for programs."""

from __future__ import annotations

from django.utils import timezone
from drf_spectacular.utils import extend_schema
from rest_framework.request import Request
from rest_framework.response import Response

from judging.actions.answer_question import close_question, send_back, stand_by
from judging.actions.ask_questions import put_to_judges
from judging.api import serializers as shapes
from judging.models import Question
from showrun.errors import NotFound
from showrun.shows.api.body import read_body
from showrun.shows.api.described import refuses
from showrun.shows.api.once import once
from showrun.shows.api.view import View
from showrun.shows.queries import demand, person_of, show_for
from showrun.shows.rules.access import Deed


def _question(request: Request, question_id: int) -> Question:
    question = Question.objects.select_related("judge__show").filter(pk=question_id).first()
    if question is None:
        raise NotFound()
    demand(request.user, Deed.SETTLE, question.judge.show)
    return question


class StandBy(View):
    """Let a correction typed in the office count, as a second officer."""

    @extend_schema(request=None, responses=shapes.QuestionOut)
    @refuses(
        "not-allowed",
        "conflict",
        "second-officer-needed",
        "mark-changed",
        "mark-aside",
        "criterion-not-on-rig",
        "mark-over-maximum",
        "mark-below-zero",
        "mark-off-step",
        "place-below-first",
    )
    @once
    def post(self, request: Request, question_id: int) -> Response:
        question = _question(request, question_id)
        done = stand_by(question=question, by=person_of(request.user), at=timezone.now())
        return Response(shapes.QuestionOut(done).data)


class SendBack(View):
    """Drop a correction typed in the office; the question is open again."""

    @extend_schema(request=shapes.WhyIn, responses=shapes.QuestionOut)
    @refuses("not-allowed", "conflict")
    @once
    def post(self, request: Request, question_id: int) -> Response:
        question = _question(request, question_id)
        reason = read_body(shapes.WhyIn, request)["reason"]
        done = send_back(
            question=question, reason=reason, by=person_of(request.user), at=timezone.now()
        )
        return Response(shapes.QuestionOut(done).data)


class Close(View):
    """Close a question nobody can answer any more; what it asks about stands."""

    @extend_schema(request=shapes.WhyIn, responses=shapes.QuestionOut)
    @refuses("not-allowed", "conflict")
    @once
    def post(self, request: Request, question_id: int) -> Response:
        question = _question(request, question_id)
        reason = read_body(shapes.WhyIn, request)["reason"]
        done = close_question(
            question=question, reason=reason, by=person_of(request.user), at=timezone.now()
        )
        return Response(shapes.QuestionOut(done).data)


class PutToJudges(View):
    """Put a finding about the day to its judge."""

    @extend_schema(request=shapes.FindingIn, responses={201: shapes.QuestionOut(many=True)})
    @refuses("not-allowed", "asked-before", "finding-gone")
    @once
    def post(self, request: Request, slug: str) -> Response:
        show = show_for(request.user, slug, Deed.SETTLE)
        given = read_body(shapes.FindingIn, request)
        asked = put_to_judges(
            show=show,
            check=given["check"],
            judge_id=given["judge"],
            by=person_of(request.user),
            at=timezone.now(),
        )
        return Response(shapes.QuestionOut(asked, many=True).data, status=201)

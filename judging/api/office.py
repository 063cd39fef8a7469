"""What the office does about judging, for programs."""

from __future__ import annotations

from typing import Any
from uuid import UUID

from django.db import transaction
from django.utils import timezone
from drf_spectacular.utils import extend_schema
from rest_framework.request import Request
from rest_framework.response import Response

from entries.models import Entry
from judging.actions.answer_question import answer_question
from judging.actions.ask_questions import ask_questions
from judging.actions.engage_judge import declare_conflict, engage_judge, judge_leaves
from judging.actions.mend_panel import mend_panel
from judging.actions.open_window import (
    publish_window,
    set_hours,
    size_window,
    withdraw_window,
)
from judging.actions.pair_device import make_pairing_code
from judging.actions.seat_panel import seat_panel
from judging.actions.settle import see_concern, settle_event
from judging.api import serializers as shapes
from judging.models import Judge, Question, RoundEvent, SafetyConcern
from judging.queries.panel import judges_of, seats_of
from judging.queries.progress import progress_of
from judging.queries.window import window_of
from showrun.errors import NotFound
from showrun.language import gettext as _
from showrun.shows.actions.plan_show import person_for
from showrun.shows.api.body import read_body
from showrun.shows.api.described import refuses
from showrun.shows.api.lists import page_of, read_asked
from showrun.shows.api.once import once
from showrun.shows.api.serializers import ShowOut
from showrun.shows.api.view import View, as_it_was
from showrun.shows.models import Show
from showrun.shows.queries import demand, person_of, show_by_slug, show_for
from showrun.shows.rules.access import Deed


def _judge(request: Request, judge_id: int, deed: Deed) -> Judge:
    judge = Judge.objects.select_related("show", "person").filter(pk=judge_id).first()
    if judge is None:
        raise NotFound()
    demand(request.user, deed, judge.show)
    return judge


def _window(show: Show) -> dict[str, Any]:
    window = window_of(show)
    if window is None:
        raise NotFound(_("There is no window yet; size it first."))
    return dict(shapes.WindowOut(window).data)


class Judges(View):
    """The judges of a show."""

    @extend_schema(responses=shapes.JudgeOut(many=True))
    @refuses("not-allowed")
    def get(self, request: Request, slug: str) -> Response:
        show = show_for(request.user, slug, Deed.RUN_JUDGES)
        return Response(shapes.JudgeOut(judges_of(show), many=True).data)

    @extend_schema(request=shapes.JudgeIn, responses={201: shapes.JudgeOut})
    @refuses("not-allowed", "not-yet", "conflict")
    @once
    def post(self, request: Request, slug: str) -> Response:
        show = show_for(request.user, slug, Deed.RUN_JUDGES)
        given = read_body(shapes.JudgeIn, request)
        with transaction.atomic():  # a judge refused leaves no person behind
            person = person_for(email=given.pop("email"), name=given.pop("name"))
            judge = engage_judge(
                show=show, person=person, by=person_of(request.user), at=timezone.now(), **given
            )
        return Response(shapes.JudgeOut(judge).data, status=201)


class Conflicts(View):
    """Bar a judge from an entry."""

    @extend_schema(request=shapes.ConflictIn, responses={201: shapes.JudgeOut})
    @refuses("not-allowed", "conflict")
    @once
    def post(self, request: Request, judge_id: int) -> Response:
        judge = _judge(request, judge_id, Deed.RUN_JUDGES)
        given = read_body(shapes.ConflictIn, request)
        entry = Entry.objects.filter(pk=given.pop("entry"), show=judge.show).first()
        if entry is None:
            raise NotFound(_("There is no such entry in this show."))
        declare_conflict(
            judge=judge, entry=entry, by=person_of(request.user), at=timezone.now(), **given
        )
        return Response(shapes.JudgeOut(judge).data, status=201)


class Pairings(View):
    """Make a code that pairs one phone with this judge."""

    @extend_schema(request=shapes.PairingIn, responses={201: shapes.PairingOut})
    @refuses("not-allowed")
    def post(self, request: Request, judge_id: int) -> Response:
        judge = _judge(request, judge_id, Deed.PAIR_DEVICES)
        given = read_body(shapes.PairingIn, request)
        kept, code = make_pairing_code(
            judge=judge, by=person_of(request.user), at=timezone.now(), **given
        )
        link = request.build_absolute_uri(f"/round/#pair={code}")
        body = {"code": code, "link": link, "expires_at": kept.expires_at}
        return Response(shapes.PairingOut(body).data, status=201)


class Panel(View):
    """The panel: see it, or draw it anew."""

    @extend_schema(responses=shapes.PanelOut)
    @refuses("not-allowed")
    def get(self, request: Request, slug: str) -> Response:
        show = show_for(request.user, slug, Deed.RUN_JUDGES)
        return Response(self._body(show))

    @extend_schema(request=shapes.PanelIn, responses={201: shapes.PanelOut})
    @refuses("not-allowed", "conflict", "not-yet", "panel-impossible", if_match="may")
    @once
    def post(self, request: Request, slug: str) -> Response:
        show = show_for(request.user, slug, Deed.RUN_JUDGES)
        given = read_body(shapes.PanelIn, request)
        with as_it_was(request, show, lambda: self._body(show)):
            seat_panel(show=show, by=person_of(request.user), at=timezone.now(), **given)
        return Response(self._body(show), status=201)

    def _body(self, show: Show) -> dict:
        seats = list(seats_of(show))
        loads: dict[str, int] = {}
        for seat in seats:
            loads[seat.judge.code] = loads.get(seat.judge.code, 0) + 1
        return dict(shapes.PanelOut({"seats": seats, "loads": loads}).data)


class Mend(View):
    """Make the panel whole again on the day; seats that stand are kept."""

    @extend_schema(request=shapes.WhyIn, responses={201: shapes.MendedOut})
    @refuses(
        "not-allowed",
        "no-plan",
        "not-yet",
        "nothing-changes",
        "panel-impossible",
        "rotation-faulty",
    )
    @once
    def post(self, request: Request, slug: str) -> Response:
        show = show_for(request.user, slug, Deed.RUN_JUDGES)
        reason = read_body(shapes.WhyIn, request)["reason"]
        mended = mend_panel(show=show, by=person_of(request.user), at=timezone.now(), reason=reason)
        return Response(shapes.MendedOut(mended).data, status=201)


class TheWindow(View):
    """The judging window: see it, or size it anew."""

    @extend_schema(responses=shapes.WindowOut)
    @refuses("not-allowed")
    def get(self, request: Request, slug: str) -> Response:
        return Response(_window(show_for(request.user, slug, Deed.RUN_WINDOW)))

    @extend_schema(request=shapes.SizeIn, responses={201: shapes.WindowOut})
    @refuses("not-allowed", "conflict", "no-plan", "not-yet", "rotation-faulty")
    @once
    def post(self, request: Request, slug: str) -> Response:
        show = show_for(request.user, slug, Deed.RUN_WINDOW)
        given = read_body(shapes.SizeIn, request)
        window = size_window(show=show, by=person_of(request.user), at=timezone.now(), **given)
        return Response(shapes.WindowOut(window).data, status=201)


class Hours(View):
    """When judging starts and how long it may take."""

    @extend_schema(request=shapes.HoursIn, responses={204: None})
    @refuses("not-allowed", "conflict", if_match="may")
    @once
    def post(self, request: Request, slug: str) -> Response:
        show = show_for(request.user, slug, Deed.RUN_WINDOW)
        given = read_body(shapes.HoursIn, request)
        with as_it_was(request, show, lambda: ShowOut(show_by_slug(slug)).data):
            set_hours(show=show, by=person_of(request.user), at=timezone.now(), **given)
        return Response(status=204)


class Leave(View):
    """Take a judge off the rest of the show."""

    @extend_schema(request=shapes.WhyIn, responses=shapes.JudgeOut)
    @refuses("not-allowed", "conflict")
    @once
    def post(self, request: Request, judge_id: int) -> Response:
        judge = _judge(request, judge_id, Deed.RUN_JUDGES)
        reason = read_body(shapes.WhyIn, request)["reason"]
        judge_leaves(judge=judge, reason=reason, by=person_of(request.user), at=timezone.now())
        return Response(shapes.JudgeOut(judge).data)


class Publish(View):
    """Announce the window's times."""

    @extend_schema(request=shapes.PublishIn, responses=shapes.WindowOut)
    @refuses("not-allowed", "not-yet", "risky", "stale", if_match="may")
    @once
    def post(self, request: Request, slug: str) -> Response:
        show = show_for(request.user, slug, Deed.RUN_WINDOW)
        given = read_body(shapes.PublishIn, request)
        with as_it_was(request, show, lambda: _window(show)):
            by, at = person_of(request.user), timezone.now()
            window = publish_window(show=show, by=by, at=at, **given)
        return Response(shapes.WindowOut(window).data)


class Withdraw(View):
    """Take back announced times while no judge has set off."""

    @extend_schema(request=shapes.WhyIn, responses={204: None})
    @refuses("not-allowed", "conflict", "not-yet", if_match="may")
    @once
    def post(self, request: Request, slug: str) -> Response:
        show = show_for(request.user, slug, Deed.RUN_WINDOW)
        reason = read_body(shapes.WhyIn, request)["reason"]
        with as_it_was(request, show, lambda: _window(show)):
            by, at = person_of(request.user), timezone.now()
            withdraw_window(show=show, reason=reason, by=by, at=at)
        return Response(status=204)


class TheProgress(View):
    """How the judging stands."""

    @extend_schema(parameters=[shapes.ProgressAsked], responses=shapes.JudgingProgressOut)
    @refuses("not-allowed")
    def get(self, request: Request, slug: str) -> Response:
        show = show_for(request.user, slug, Deed.SEE_OFFICE)
        judge = read_asked(shapes.ProgressAsked, request)["judge"]
        body = dict(shapes.JudgingProgressOut(progress_of(show)).data)
        if judge:
            body["cards"] = [card for card in body["cards"] if card["judge"] == judge]
        return Response(body)


class Questions(View):
    """The questions of a show: see them, or run the checks."""

    @extend_schema(parameters=[shapes.QuestionsAsked], responses=shapes.QuestionOut(many=True))
    @refuses("not-allowed")
    def get(self, request: Request, slug: str) -> Response:
        show = show_for(request.user, slug, Deed.SETTLE)
        wanted = read_asked(shapes.QuestionsAsked, request)
        asked = Question.objects.filter(judge__show=show)
        if wanted["state"]:
            asked = asked.filter(state=wanted["state"])
        if wanted["judge"]:
            asked = asked.filter(judge__code=wanted["judge"])
        asked = asked.select_related("judge", "entry", "other_entry", "criterion", "proposed_by")
        page, headers = page_of(asked, request, wanted)
        return Response(shapes.QuestionOut(page, many=True).data, headers=headers)

    @extend_schema(request=None, responses={201: shapes.AskedOut})
    @refuses("not-allowed")
    @once
    def post(self, request: Request, slug: str) -> Response:
        show = show_for(request.user, slug, Deed.SETTLE)
        done = ask_questions(show=show, by=person_of(request.user), at=timezone.now())
        body = {
            "marks_checked": done.n_checked,
            "threshold": done.threshold,
            "alpha": done.alpha,
            "asked": done.questions,
        }
        return Response(shapes.AskedOut(body).data, status=201)


class Answer(View):
    """Answer a question on the judge's behalf."""

    @extend_schema(request=shapes.AnswerIn, responses=shapes.QuestionOut)
    @refuses(
        "not-allowed",
        "conflict",
        "correction-proposed",
        "mark-aside",
        "criterion-not-on-rig",
        "mark-over-maximum",
        "mark-below-zero",
        "mark-off-step",
        "place-below-first",
    )
    @once
    def post(self, request: Request, question_id: int) -> Response:
        question = Question.objects.select_related("judge__show").filter(pk=question_id).first()
        if question is None:
            raise NotFound()
        demand(request.user, Deed.SETTLE, question.judge.show)
        given = read_body(shapes.AnswerIn, request)
        answered = answer_question(
            question=question, by=person_of(request.user), at=timezone.now(), **given
        )
        return Response(shapes.QuestionOut(answered).data)


class SettleEvent(View):
    """Note what was done about an event kept for the office."""

    @extend_schema(request=shapes.NoteIn, responses=shapes.HeldOut)
    @refuses("not-allowed", "conflict")
    @once
    def post(self, request: Request, event_id: UUID) -> Response:
        events = RoundEvent.objects.select_related("show", "device__judge")
        event = events.filter(pk=event_id).first()
        if event is None:
            raise NotFound()
        demand(request.user, Deed.SETTLE, event.show)
        note = read_body(shapes.NoteIn, request)["note"]
        settled = settle_event(
            event=event, note=note, by=person_of(request.user), at=timezone.now()
        )
        return Response(shapes.HeldOut(settled).data)


class SeeConcern(View):
    """Note that the office has seen a safety concern."""

    @extend_schema(request=None, responses=shapes.ConcernOut)
    @refuses("not-allowed")
    @once
    def post(self, request: Request, concern_id: int) -> Response:
        concerns = SafetyConcern.objects.select_related("judge__show", "entry")
        concern = concerns.filter(pk=concern_id).first()
        if concern is None:
            raise NotFound()
        demand(request.user, Deed.SETTLE, concern.judge.show)
        seen = see_concern(concern=concern, by=person_of(request.user), at=timezone.now())
        return Response(shapes.ConcernOut(seen).data)

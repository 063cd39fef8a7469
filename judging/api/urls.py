"""Addresses of the API that concern judging."""

from django.urls import path

from judging.api import cards, device, food, office, plans, results, rigs

urlpatterns = [
    path("device/pair", device.Pair.as_view(), name="api-device-pair"),
    path("device/round", device.Round.as_view(), name="api-device-round"),
    path("device/events", device.Events.as_view(), name="api-device-events"),
    path("schemas/scorecard", cards.CardSchema.as_view(), name="api-schema-scorecard"),
    path("shows/<slug:slug>/scorecards", cards.Scorecards.as_view(), name="api-scorecards"),
    path("scorecards/<int:card_id>", cards.OneScorecard.as_view(), name="api-scorecard"),
    path("scorecards/<int:card_id>/versions", cards.Versions.as_view(), name="api-card-versions"),
    path("scorecards/<int:card_id>/use", cards.Use.as_view(), name="api-card-use"),
    path("classes/<int:class_id>/declare", cards.Declare.as_view(), name="api-declare"),
    path("shows/<slug:slug>/food", food.FoodRounds.as_view(), name="api-food"),
    path("shows/<slug:slug>/judges", office.Judges.as_view(), name="api-judges"),
    path("judges/<int:judge_id>/conflicts", office.Conflicts.as_view(), name="api-conflicts"),
    path("judges/<int:judge_id>/pairings", office.Pairings.as_view(), name="api-pairings"),
    path("shows/<slug:slug>/panel", office.Panel.as_view(), name="api-panel"),
    path("shows/<slug:slug>/panel/mend", office.Mend.as_view(), name="api-panel-mend"),
    path("shows/<slug:slug>/window", office.TheWindow.as_view(), name="api-window"),
    path("shows/<slug:slug>/window/publish", office.Publish.as_view(), name="api-window-publish"),
    path("shows/<slug:slug>/day", plans.TheDay.as_view(), name="api-day"),
    path("shows/<slug:slug>/pauses", plans.Pauses.as_view(), name="api-pauses"),
    path("pauses/<int:pause_id>/drop", plans.DropPause.as_view(), name="api-pause-drop"),
    path("shows/<slug:slug>/plans", plans.Plans.as_view(), name="api-plans"),
    path("plans/<int:job_id>", plans.OnePlan.as_view(), name="api-plan"),
    path("plans/<int:job_id>/stop", plans.StopPlan.as_view(), name="api-plan-stop"),
    path("plans/<int:job_id>/use", plans.UsePlan.as_view(), name="api-plan-use"),
    path("plans/<int:job_id>/leave", plans.LeavePlan.as_view(), name="api-plan-leave"),
    path("shows/<slug:slug>/hours", office.Hours.as_view(), name="api-hours"),
    path("judges/<int:judge_id>/leave", office.Leave.as_view(), name="api-judge-leave"),
    path(
        "shows/<slug:slug>/window/withdraw", office.Withdraw.as_view(), name="api-window-withdraw"
    ),
    path("shows/<slug:slug>/progress", office.TheProgress.as_view(), name="api-progress"),
    path("shows/<slug:slug>/questions", office.Questions.as_view(), name="api-questions"),
    path("questions/<int:question_id>/answer", office.Answer.as_view(), name="api-answer"),
    path("events/<uuid:event_id>/settle", office.SettleEvent.as_view(), name="api-settle"),
    path("concerns/<int:concern_id>/seen", office.SeeConcern.as_view(), name="api-concern-seen"),
    path("shows/<slug:slug>/rig-reports", rigs.RigReports.as_view(), name="api-rig-reports"),
    path("rig-reports/<int:report_id>/settle", rigs.SettleRig.as_view(), name="api-settle-rig"),
    path("classes/<int:class_id>/result", results.ClassResult.as_view(), name="api-class-result"),
    path("results/<int:result_id>/sign", results.Sign.as_view(), name="api-result-sign"),
    path("results/<int:result_id>/release", results.Release.as_view(), name="api-result-release"),
    path("shows/<slug:slug>/results", results.ShowResults.as_view(), name="api-results"),
]

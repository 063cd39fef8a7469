"""Addresses of judging: the show's public pages, the office, and the judge's round."""

from django.urls import path

from judging.web import (
    alerts,
    card_urls,
    evener,
    handbook,
    judges,
    norming,
    offline,
    progress,
    public,
    results,
    running,
    setup,
)

app_name = "judging"
OFFICE = "shows/<slug:slug>/office"
urlpatterns = [
    path("shows/<slug:slug>/", public.show_page, name="show"),
    path("shows/<slug:slug>/results/", public.results_page, name="results"),
    path("handbook/", handbook.handbook_page, name="handbook"),
    path("handbook/evener/", evener.evener_page, name="evener"),
    path("shows/<slug:slug>/handbook/", handbook.show_handbook_page, name="show-handbook"),
    path("shows/<slug:slug>/prepare/", handbook.prepare_page, name="prepare"),
    path(f"{OFFICE}/judges/", judges.judges, name="judges"),
    path(f"{OFFICE}/judges/<int:judge_id>/code/", judges.pairing_code, name="pairing-code"),
    *card_urls.urlpatterns,
    path(f"{OFFICE}/panel/", setup.panel, name="panel"),
    path(f"{OFFICE}/window/", setup.window, name="window"),
    path(f"{OFFICE}/norming/", norming.norming, name="norming"),
    path(f"{OFFICE}/progress/", progress.progress, name="progress"),
    path("held/<uuid:event_id>/settle/", progress.settle_event_view, name="settle-event"),
    path("concerns/<int:concern_id>/seen/", progress.see_concern_view, name="see-concern"),
    path("rig-reports/<int:report_id>/settle/", progress.settle_rig_view, name="settle-rig"),
    path(f"{OFFICE}/alerts/", alerts.alerts, name="alerts"),
    path(f"{OFFICE}/questions/", running.questions, name="questions"),
    path(f"{OFFICE}/questions/check/", running.run_checks, name="run-checks"),
    path(
        "questions/<int:question_id>/answer/", running.answer_question_view, name="answer-question"
    ),
    path(f"{OFFICE}/results/", results.office_results, name="office-results"),
    path("classes/<int:class_id>/compute/", results.compute, name="compute"),
    path("results/<int:result_id>/sign/", results.sign, name="sign"),
    path("results/<int:result_id>/release/", results.release, name="release"),
    path(f"{OFFICE}/record/", running.record, name="record"),
    path("round/", offline.round_shell, name="round"),
    path("round/worker.js", offline.round_worker, name="round-worker"),
    path("round/manifest.webmanifest", offline.round_manifest, name="round-manifest"),
]

"""Addresses of papers."""

from django.urls import path

from reports.web import (
    archive,
    card_papers,
    home,
    my_entry,
    my_feedback,
    my_outfits,
    office,
    papers,
    purses,
    receipts,
)

app_name = "reports"
urlpatterns = [
    path("", home.home, name="home"),
    path("shows/<slug:slug>/office/", office.office_start, name="office"),
    path("shows/<slug:slug>/office/papers/", papers.papers, name="papers"),
    path("shows/<slug:slug>/office/archive/", archive.archive, name="archive"),
    path(
        "shows/<slug:slug>/office/paper-cards/print/",
        card_papers.card_papers,
        name="card-papers",
    ),
    path("entries/<int:entry_id>/", my_entry.my_entry, name="my-entry"),
    path(
        "entries/<int:entry_id>/feedback/<int:class_id>/",
        my_feedback.my_feedback,
        name="my-feedback",
    ),
    path("my/outfits/", my_outfits.my_outfits, name="my-outfits"),
    path("shows/<slug:slug>/office/money/purses/", purses.purses, name="purses"),
    path("entries/<int:entry_id>/receipts/<int:number>/", receipts.receipt, name="receipt"),
    path("papers/<int:paper_id>/redo/", papers.redo, name="paper-redo"),
    path("papers/<int:paper_id>/file", papers.paper_file, name="paper-file"),
    path(
        "judges/<int:judge_id>/report/paper", papers.judge_report_paper, name="judge-report-paper"
    ),
    path("papers/check/", papers.check_form, name="paper-check-form"),
    path("papers/check/<str:code>/", papers.check, name="paper-check"),
    path("entries/<int:entry_id>/papers/<str:kind>/", papers.entry_paper, name="entry-paper"),
]

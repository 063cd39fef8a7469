"""Addresses of papers."""

from django.urls import path

from reports.web import card_papers, home, my_entry, office, papers

app_name = "reports"
urlpatterns = [
    path("", home.home, name="home"),
    path("shows/<slug:slug>/office/", office.office_start, name="office"),
    path("shows/<slug:slug>/office/papers/", papers.papers, name="papers"),
    path(
        "shows/<slug:slug>/office/paper-cards/print/",
        card_papers.card_papers,
        name="card-papers",
    ),
    path("entries/<int:entry_id>/", my_entry.my_entry, name="my-entry"),
    path("papers/<int:paper_id>/redo/", papers.redo, name="paper-redo"),
    path("papers/<int:paper_id>/file", papers.paper_file, name="paper-file"),
    path("papers/check/", papers.check_form, name="paper-check-form"),
    path("papers/check/<str:code>/", papers.check, name="paper-check"),
    path("entries/<int:entry_id>/papers/<str:kind>/", papers.entry_paper, name="entry-feedback"),
]

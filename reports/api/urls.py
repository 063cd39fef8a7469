"""Addresses of papers in the API."""

from django.urls import path

from reports.api import papers

urlpatterns = [
    path("shows/<slug:slug>/papers", papers.ShowPapers.as_view(), name="api-show-papers"),
    path("papers/<int:paper_id>", papers.OnePaper.as_view(), name="api-paper"),
]

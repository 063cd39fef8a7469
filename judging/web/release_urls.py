"""Addresses of what follows signing: hours of release, the list read out, queries, seasons."""

from django.urls import path

from judging.web import announcer, exhibitor_queries, release_hours, seasons

OFFICE = "shows/<slug:slug>/office"
urlpatterns = [
    path("results/<int:result_id>/hour/", release_hours.release_hour, name="release-hour"),
    path("results/<int:result_id>/changes/", release_hours.changes_page, name="result-changes"),
    path("shows/<slug:slug>/call-list/", announcer.call_list, name="call-list"),
    path(f"{OFFICE}/queries/", exhibitor_queries.queries, name="queries"),
    path("queries/<int:query_id>/answer/", exhibitor_queries.answer, name="answer-query"),
    path(f"{OFFICE}/seasons/", seasons.office_seasons, name="office-seasons"),
    path("seasons/", seasons.seasons, name="seasons"),
    path("seasons/<slug:season_slug>/", seasons.season, name="season"),
    path("seasons/<slug:season_slug>/edit/", seasons.edit_season, name="edit-season"),
]

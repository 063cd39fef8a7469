"""Addresses of entering and of the office's list of entries."""

from django.urls import path

from entries.web import enter, office

app_name = "entries"
urlpatterns = [
    path("shows/<slug:slug>/enter/", enter.enter_wagon, name="enter"),
    path("shows/<slug:slug>/office/entries/", office.entry_list, name="office-entries"),
    path("entries/<int:entry_id>/decide/", office.decide, name="decide"),
]

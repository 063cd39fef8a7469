"""Addresses of the API that concern shows and the person asking."""

from django.urls import path

from showrun.shows.api import views

urlpatterns = [
    path("schema/", views.Description.as_view(), name="schema"),
    path("me", views.Me.as_view(), name="api-me"),
    path("shows", views.Shows.as_view(), name="api-shows"),
    path("shows/<slug:slug>", views.OneShow.as_view(), name="api-show"),
]

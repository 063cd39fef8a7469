"""Addresses of the API that concern entries."""

from django.urls import path

from entries.api import views

urlpatterns = [
    path("shows/<slug:slug>/entries", views.Entries.as_view(), name="api-entries"),
    path("entries/<int:entry_id>", views.OneEntry.as_view(), name="api-entry"),
    path("entries/<int:entry_id>/confirm", views.Confirm.as_view(), name="api-entry-confirm"),
    path("entries/<int:entry_id>/wait", views.Wait.as_view(), name="api-entry-wait"),
    path("entries/<int:entry_id>/scratch", views.Scratch.as_view(), name="api-entry-scratch"),
]

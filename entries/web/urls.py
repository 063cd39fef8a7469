"""Addresses of entering and of the office's list of entries."""

from django.urls import path

from entries.web import (
    camp,
    check_in,
    crew,
    details,
    enter,
    lists,
    messages,
    money,
    money_entry,
    office,
    place,
    terms,
)

app_name = "entries"
urlpatterns = [
    path("shows/<slug:slug>/enter/", enter.enter_wagon, name="enter"),
    path("shows/<slug:slug>/enter/draft/", enter.draft, name="draft"),
    path("shows/<slug:slug>/office/entries/", office.entry_list, name="office-entries"),
    path("shows/<slug:slug>/office/entries/confirm/", office.confirm_all, name="confirm-all"),
    path("shows/<slug:slug>/office/messages/", messages.messages_page, name="messages"),
    path("shows/<slug:slug>/office/entries/export/", lists.export, name="export"),
    path("shows/<slug:slug>/office/entries/import/", lists.import_list, name="import"),
    path("shows/<slug:slug>/office/terms/", terms.terms, name="terms"),
    path("shows/<slug:slug>/office/offer-next/", office.offer, name="offer-next"),
    path("entries/<int:entry_id>/details/", details.details, name="details"),
    path("entries/<int:entry_id>/photo/", details.photo, name="photo"),
    path("entries/<int:entry_id>/crew/", crew.crew, name="crew"),
    path("entries/<int:entry_id>/place/", place.place, name="place"),
    path("entries/<int:entry_id>/decide/", office.decide, name="decide"),
    path("shows/<slug:slug>/office/money/", money.money, name="money"),
    path("shows/<slug:slug>/office/money/export/", money.money_export, name="money-export"),
    path("entries/<int:entry_id>/money/", money_entry.money_entry, name="money-entry"),
    path("shows/<slug:slug>/office/check-in/", check_in.gate, name="check-in"),
    path(
        "shows/<slug:slug>/office/check-in/<int:entry_id>/",
        check_in.gate_wagon,
        name="check-in-wagon",
    ),
    path("shows/<slug:slug>/office/camp/", camp.camp, name="camp"),
    path("shows/<slug:slug>/camp/", camp.camp_plan, name="camp-plan"),
    path("payments/notice/", money.payment_notice, name="payment-notice"),
]

"""Addresses of the office's pages about scorecards, all below its scorecard page."""

from django.urls import path

from judging.web import card_edit, card_pages, card_use

CARD = "shows/<slug:slug>/office/scorecard"
urlpatterns = [
    path(f"{CARD}/", card_pages.scorecard, name="scorecard"),
    path(f"{CARD}/library/", card_pages.library, name="card-library"),
    path(f"{CARD}/class/<int:class_id>/", card_use.declare_page, name="declare"),
    path(f"{CARD}/<int:card_id>/", card_edit.card_page, name="card"),
    path(f"{CARD}/<int:card_id>/file/<str:form>/", card_pages.card_file, name="card-file"),
    path(f"{CARD}/<int:card_id>/phone/", card_pages.phone, name="card-phone"),
    path(f"{CARD}/<int:card_id>/use/", card_use.use_page, name="card-use"),
    path(f"{CARD}/<int:card_id>/section/", card_edit.section_page, name="card-new-section"),
    path(
        f"{CARD}/<int:card_id>/section/<int:section_id>/",
        card_edit.section_page,
        name="card-section",
    ),
    path(
        f"{CARD}/<int:card_id>/section/<int:section_id>/row/",
        card_edit.row_page,
        name="card-new-row",
    ),
    path(f"{CARD}/<int:card_id>/row/<int:row_id>/", card_edit.row_page, name="card-row"),
]

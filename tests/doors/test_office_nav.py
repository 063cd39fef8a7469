"""The list of the office's pages: whoever reads it may open each page it names."""

from __future__ import annotations

import re

import pytest
from django.test import Client
from django.urls import reverse

from showrun.project.templatetags.office_nav import OFFICE
from showrun.shows.actions.plan_show import give_role
from showrun.shows.models import Person, Show
from showrun.shows.rules.access import Role
from tests.judged_show import build_show, office_of, steward_of

pytestmark = pytest.mark.django_db


@pytest.fixture
def show() -> Show:
    return build_show(n_entries=2)


def client_of(person: Person) -> Client:
    client = Client()
    client.force_login(person)
    return client


def listed(client: Client, show: Show, route: str = "reports:office") -> list[str]:
    text = client.get(reverse(route, args=[show.slug])).content.decode()
    nav = text[text.index('<nav class="office-nav"') : text.index("</nav>")]
    return re.findall(r'<li><a href="([^"]+)"', nav)


def test_the_office_finds_every_page_and_each_opens(show: Show):
    client = client_of(office_of(show))
    found = listed(client, show)
    every = [reverse(page.route, args=[show.slug]) for part in OFFICE for page in part.pages]
    assert found == every
    assert {client.get(address).status_code for address in found} == {200}


def test_a_steward_is_shown_what_a_steward_may_open_and_no_more(show: Show):
    client = client_of(steward_of(show))
    found = listed(client, show)
    assert {client.get(address).status_code for address in found} == {200}
    every = [reverse(page.route, args=[show.slug]) for part in OFFICE for page in part.pages]
    hidden = [address for address in every if address not in found]
    assert len(hidden) >= 5
    assert {client.get(address).status_code for address in hidden} == {403}


def test_a_second_part_opens_its_pages_too(show: Show):
    steward = steward_of(show)
    call_list = reverse("judging:call-list", args=[show.slug])
    assert call_list not in listed(client_of(steward), show)
    give_role(show=show, person=steward, role=Role.ANNOUNCER)
    assert call_list in listed(client_of(steward), show)


@pytest.mark.parametrize(
    "page", [one for part in OFFICE for one in part.pages if one.here], ids=lambda one: one.here
)
def test_the_page_that_is_open_is_marked_and_no_other(show: Show, page):
    text = client_of(office_of(show)).get(reverse(page.route, args=[show.slug])).content.decode()
    nav = text[text.index('<nav class="office-nav"') : text.index("</nav>")]
    assert re.findall(r'aria-current="page">([^<]+)<', nav) == [page.words]

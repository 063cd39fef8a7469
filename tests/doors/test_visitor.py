"""The address that limits count by, with and without a proxy before the web server."""

from __future__ import annotations

import pytest
from django.core.exceptions import MiddlewareNotUsed
from django.http import HttpRequest, HttpResponse
from django.test import Client, RequestFactory
from django.urls import reverse

from showrun.shows.web.limits import ASKS_PER_ADDRESS, client_ip
from showrun.shows.web.visitor import VisitorMiddleware


def seen(settings, proxies: int, forwarded: str | None) -> str:
    settings.PROXIES_BEFORE = proxies
    found: list[str] = []

    def view(request: HttpRequest) -> HttpResponse:
        found.append(client_ip(request))
        return HttpResponse()

    head = {} if forwarded is None else {"x-forwarded-for": forwarded}
    VisitorMiddleware(view)(RequestFactory(REMOTE_ADDR="10.0.0.2").get("/", headers=head))
    return found[0]


@pytest.mark.parametrize(
    ("proxies", "forwarded", "address"),
    [
        (1, "198.51.100.7", "198.51.100.7"),
        (1, "203.0.113.9, 198.51.100.7", "198.51.100.7"),  # the first was made up
        (2, "203.0.113.9, 198.51.100.7, 10.0.0.1", "198.51.100.7"),
        (1, " 2001:db8::1 ", "2001:db8::1"),
        (2, "198.51.100.7", "10.0.0.2"),  # came past one of the two
        (1, "<script>", "10.0.0.2"),
        (1, "", "10.0.0.2"),
        (1, None, "10.0.0.2"),
    ],
)
def test_it_is_the_one_the_outermost_of_our_proxies_heard_from(
    settings, proxies: int, forwarded: str | None, address: str
):
    assert seen(settings, proxies, forwarded) == address


def test_without_a_proxy_the_header_is_not_read(settings):
    settings.PROXIES_BEFORE = 0
    with pytest.raises(MiddlewareNotUsed):
        VisitorMiddleware(lambda request: HttpResponse())


@pytest.mark.django_db
def test_behind_a_proxy_one_visitor_who_asks_too_often_keeps_nobody_else_out(settings):
    settings.PROXIES_BEFORE = 1
    address = reverse("shows:join")

    def ask(visitor: str) -> int:
        head = {"x-forwarded-for": visitor}
        return Client(headers=head).post(address, {"token": "x"}).status_code

    assert 429 not in {ask("198.51.100.7") for _ in range(ASKS_PER_ADDRESS)}
    assert ask("198.51.100.7") == 429
    assert ask("198.51.100.8") != 429

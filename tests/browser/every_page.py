"""Every page a person can open, from the access table, on a show that has something of everything.

The list is read from `tests/doors/access_table.txt`, which a test holds to the addresses that
there are: a new page cannot be forgotten here. Addresses that answer with a file and not with a
page are told by their answer; pages left out are named below, with the reason.
"""

from __future__ import annotations

import json
from dataclasses import dataclass, field
from functools import cached_property
from typing import Any

from playwright.sync_api import Browser, BrowserContext, Page

from tests.access_rows import ROWS
from tests.live import LiveShow

LEFT_OUT = {
    "/round/": "looked at in every theme, hand and size by tests/browser/test_round.py",
    "/healthz": "one word for a program",
    "/readyz": "a line for a program",
    "/shows/<slug:slug>/office/alerts/": "a part of a page, fetched by the page around it",
}
# Who looks: whoever the page is made for. An address that several of these may open is opened
# by each of them, as an entry's page differs for its owner and the office.
LOOKERS = ("owner", "judge", "key", "announcer", "office")
# What everybody may read looks the same for all, but for these.
READ_BY_MORE = {"/": ("nobody", "owner", "office"), "/shows/<slug:slug>/": ("nobody", "owner")}
PHASE = "released"


def build() -> None:
    """Build the show in a process of the service; print addresses and sessions as JSON."""
    from django.conf import settings

    from tests.everybody import Cast

    cast = Cast(PHASE)
    print(
        json.dumps(
            {
                "cookie": settings.SESSION_COOKIE_NAME,
                "sessions": cast.sessions,
                "addresses": {row.route: cast.address(row.route) for row in pages()},
            }
        )
    )


def pages() -> list[Any]:
    """The rows of the table that may be pages."""
    return [
        row
        for row in ROWS
        if row.method == "GET"
        and "/api/" not in row.route
        and row.route not in LEFT_OUT
        and "in" in row.expected(PHASE).values()
    ]


def lookers(row: Any) -> tuple[str, ...]:
    """Who looks at the page of the row."""
    words = row.expected(PHASE)
    if words["nobody"] == "in":
        return READ_BY_MORE.get(row.route, ("nobody",))
    return tuple(who for who in LOOKERS if words[who] == "in")


@dataclass
class EveryPage:
    """The show as a test handles it: one browser, one tab a person."""

    live: LiveShow
    browser: Browser
    stage: dict[str, Any]
    _tabs: dict[str, Page] = field(default_factory=dict)
    _asked: dict[tuple[str, str], bool] = field(default_factory=dict)
    _contexts: list[BrowserContext] = field(default_factory=list)

    @classmethod
    def prepare(cls, live: LiveShow, browser: Browser) -> EveryPage:
        """Build the show beside the invented one."""
        source = "from tests.browser import every_page; every_page.build()"
        printed = live.manage("shell", "--no-imports", "-c", source)
        return cls(live, browser, json.loads(printed.splitlines()[-1]))

    @cached_property
    def addresses(self) -> dict[str, str]:
        """Every route with this show's values in it."""
        return dict(self.stage["addresses"])

    def tab(self, who: str) -> Page:
        """The person's tab, signed in; whoever asks for less motion is asked for it throughout."""
        if who not in self._tabs:
            context = self.browser.new_context(reduced_motion="reduce")
            self._contexts.append(context)
            if session := self.stage["sessions"][who]:
                context.add_cookies(
                    [{"name": self.stage["cookie"], "value": session, "url": self.live.url}]
                )
            self._tabs[who] = context.new_page()
        return self._tabs[who]

    def is_page(self, who: str, route: str) -> bool:
        """Whether the address answers the person with a page of its own."""
        if (who, route) not in self._asked:
            self._asked[who, route] = self._ask(who, route)
        return self._asked[who, route]

    def _ask(self, who: str, route: str) -> bool:
        reply = self.tab(who).context.request.get(
            self.live.url + self.addresses[route],
            max_redirects=0,
            max_retries=2,  # of a connection that the server closes while it is taken again
        )
        assert reply.status < 500, reply.status
        return reply.status != 302 and reply.headers.get("content-type", "").startswith("text/html")

    def close(self) -> None:
        """Close every tab."""
        for context in self._contexts:
            context.close()

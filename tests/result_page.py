"""The office's page of results as tests read it and press its buttons."""

from __future__ import annotations

import re
from typing import Any

from django.contrib.messages import get_messages
from django.test import Client
from django.urls import reverse

from judging.actions.compute_result import compute_result
from judging.models import Result
from showrun.shows.models import Person, Show
from tests.judged_show import AT, build_show, class_of, mark_everything, office_of
from tests.remembered import remembered


@remembered
def judged_by_three() -> Show:
    """A show whose three judges saw every wagon; every card is in."""
    show = build_show(n_judges=3, judges_per_section=3, kin=False)
    mark_everything(show)
    return show


def results(show: Show) -> str:
    return reverse("judging:office-results", args=[show.slug])


def page(client: Client, show: Show, person: Person | None = None) -> str:
    client.force_login(person or office_of(show))
    answer = client.get(results(show))
    assert answer.status_code == 200
    return answer.content.decode()


def block(text: str, show: Show, code: str = "trail") -> str:
    """Return what the page says of one class."""
    found = re.search(
        rf'<section class="block" id="class-{class_of(show, code).pk}".*?</section>', text, re.S
    )
    assert found
    return found[0]


def press(client: Client, name: str, pk: int, person: Person, **typed: str) -> Any:
    client.force_login(person)
    return client.post(reverse(f"judging:{name}", args=[pk]), typed)


def said(answer: Any) -> str:
    return " ".join(str(message) for message in get_messages(answer.wsgi_request))


def computed(show: Show, code: str = "trail") -> Result:
    return compute_result(show_class=class_of(show, code), by=office_of(show), at=AT)

"""The practice wagon is on no page and in no answer but those made for it."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import pytest
from django.conf import settings
from django.db import transaction
from django.test import Client, override_settings
from django.urls import URLPattern, URLResolver, get_resolver

from entries.models import Entry
from judging.models import Judge
from reports.actions.want_papers import want_papers
from reports.models import Paper
from reports.queries.contents import content_of
from tests.everybody import VISITORS, Cast
from tests.judged_show import AT, judge_of, office_of, remark, send
from tests.kept import kept_for_module
from tests.practice_wagon import NAME, PLANTED, give, phone_of, set_up

pytestmark = pytest.mark.django_db
SECRETS = (NAME, *PLANTED.splitlines())
# Its own page, and the record, where the office reads who set it up; nobody else is let in.
MADE_FOR_IT = (
    *("/office/norming/", "/office/record/", "/office/record/export/"),
    "/office/receipts/",
)


@pytest.fixture(scope="module")
def kept(django_db_setup: None, django_db_blocker: Any, tmp_path_factory: Any) -> Iterator[Cast]:
    files = override_settings(MEDIA_ROOT=tmp_path_factory.mktemp("files"))
    with files, kept_for_module(django_db_blocker):
        cast = Cast()
        wagon = set_up(cast.show)
        for n, judge in enumerate(Judge.objects.filter(show=cast.show).select_related("show")):
            give(judge, wagon, 2 * n)
            send(phone_of(judge), [remark(wagon, "harness", f"{NAME}: tidy")])
        want_papers(show=cast.show, by=office_of(cast.show), at=AT)
        yield cast


@pytest.fixture
def cast(kept: Cast, db: None) -> Cast:
    return kept


def routes(inside: list[Any], before: str = "/") -> Iterator[str]:
    for one in inside:
        if isinstance(one, URLResolver):
            yield from routes(one.url_patterns, before + str(one.pattern))
        elif isinstance(one, URLPattern) and not str(one.pattern).startswith("^"):
            yield before + str(one.pattern)


def as_visitor(cast: Cast, visitor: str) -> Client:
    client = Client(raise_request_exception=False)
    if session := cast.sessions[visitor]:
        client.cookies[settings.SESSION_COOKIE_NAME] = session
    return client


def text_of(answered: Any) -> str:
    parts = answered.streaming_content if answered.streaming else [answered.content]
    return b"".join(parts).decode(errors="replace")


def practice_wagon(cast: Cast) -> Entry:
    return Entry.objects.get(show=cast.show, status="practice")


@pytest.mark.parametrize("visitor", VISITORS)
def test_nobody_reads_of_it_anywhere_but_on_its_own_page(cast: Cast, visitor: str):
    client, read = as_visitor(cast, visitor), 0
    for route in routes(get_resolver().url_patterns):
        address = cast.address(route)
        if address.endswith(MADE_FOR_IT):
            continue
        with transaction.atomic():
            answered = client.get(address)
            transaction.set_rollback(True)
        assert answered.status_code < 500, address
        text = text_of(answered)
        assert not [secret for secret in SECRETS if secret in text], address
        read += answered.status_code == 200
    assert read >= 10


def test_the_pages_made_for_it_do_name_it(cast: Cast):
    """Or the test above could not fail."""
    for page in MADE_FOR_IT:
        text = text_of(as_visitor(cast, "office").get(f"/shows/{cast.show.slug}{page}"))
        assert NAME in text, page


@pytest.mark.parametrize("visitor", VISITORS)
def test_its_id_opens_nothing(cast: Cast, visitor: str):
    client, values = as_visitor(cast, visitor), cast.values
    cast.values = {**values, "entry_id": practice_wagon(cast).pk}
    found = {}
    for route in routes(get_resolver().url_patterns):
        if "<int:entry_id>" in route:
            for method in ("get", "post"):
                answered = getattr(client, method)(cast.address(route), {"decision": "confirm"})
                found[method, route] = answered.status_code
                assert NAME not in text_of(answered), route
    cast.values = values
    assert len(found) > 10
    assert set(found.values()) <= {403, 404, 405}, found


def test_no_conflict_is_offered_or_taken(cast: Cast):
    client, wagon = as_visitor(cast, "office"), practice_wagon(cast)
    address = f"/api/v1/judges/{judge_of(cast.show).pk}/conflicts"
    sent = {"entry": wagon.pk, "kind": "kin", "reason": "cousin"}
    assert client.post(address, sent, content_type="application/json").status_code == 422
    form = {f"conflict-{name}": value for name, value in sent.items()}
    form |= {"do": "conflict", "conflict-judge": str(judge_of(cast.show).pk)}
    answered = client.post(f"/shows/{cast.show.slug}/office/judges/", form)
    assert answered.status_code == 422
    assert "Choose a wagon." in answered.content.decode()


def test_papers_know_nothing_of_it(cast: Cast):
    papers = list(Paper.objects.filter(show=cast.show))
    assert papers
    assert len({paper.kind for paper in papers}) > 2
    for paper in papers:
        assert NAME not in repr(content_of(paper)), paper
    assert not Paper.objects.filter(entry=practice_wagon(cast)).exists()

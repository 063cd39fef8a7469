"""A number that a form sends is looked up or refused, however long it is and however written."""

from __future__ import annotations

import re
from collections.abc import Iterator
from typing import Any

import pytest
from django.db import transaction
from django.test import override_settings

from tests.access_rows import ROWS, Row
from tests.everybody import Cast
from tests.kept import kept_for_module

pytestmark = pytest.mark.django_db

SENT = [row for row in ROWS if row.method == "POST" and row.form and "api/" not in row.route]
# Longer than Python reads, longer than a database keeps, and digits of another script.
NUMBERS = ("9" * 5_000, "9" * 30, "٣", "-1", "1e3", "")


@pytest.fixture(scope="module")
def kept(django_db_setup: None, django_db_blocker: Any, tmp_path_factory: Any) -> Iterator[Cast]:
    files = override_settings(MEDIA_ROOT=tmp_path_factory.mktemp("files"))
    with files, kept_for_module(django_db_blocker):
        yield Cast()


@pytest.mark.parametrize("row", SENT, ids=str)
def test_no_number_breaks_a_page(kept: Cast, db: None, row: Row):
    client, address = kept.client("office"), kept.address(row.route)
    form = kept.address(row.form)
    for number in NUMBERS:
        sent = re.sub(r"(?<==)\d+(?=&|$)", number, form)
        with transaction.atomic():
            answered = client.post(address, sent, content_type="application/x-www-form-urlencoded")
            transaction.set_rollback(True)
        assert answered.status_code < 500, (number[:9], answered.status_code)


def test_numbers_are_sent_at_all(kept: Cast):
    with_one = [row for row in SENT if re.search(r"=\d+(&|$)", kept.address(row.form))]
    assert len(with_one) > 20

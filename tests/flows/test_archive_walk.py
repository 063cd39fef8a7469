"""What an archive takes along, held against the models there are: a new one cannot be forgotten."""

from __future__ import annotations

import re
from pathlib import Path

from django.db.models import ForeignKey, UniqueConstraint

from reports.actions.own_ways import OWN_WAYS
from reports.queries.show_tables import (
    BLANKED,
    LEFT_OUT,
    PERSON,
    SHARED,
    models_here,
    show_tables,
    table_of,
)
from reports.rules.archive_links import KEYS
from tests.house.tree import ROOT, project_files, read

TABLES = {table.name: table for table in show_tables()}
SECRET = re.compile(r"token|secret|password|credential|passkey|pairing|code_hash|session")
# Where ids are made of other things, and whether those things are keys of rows.
MADE_IDS = {
    "entries/actions/charge_entry.py": "of the entry's key: own_ways.posting_key",
    "entries/actions/online_payment.py": "of the provider's reference, which no key is in",
    "judging/actions/record_events.py": "of the judge's key, where a phone's id is of no use; held",
    "judging/actions/take_paper.py": "of the paper card's number, which stays where it is free",
    "reports/actions/insert_rows.py": "of ids that are taken here",
    "reports/actions/own_ways.py": "of ids that are taken here",
    "entries/queries/purses.py": "of the class's and the entry's key: own_ways.posting_key",
}


def test_every_model_is_archived_or_left_out_for_a_reason() -> None:
    known = TABLES.keys() | LEFT_OUT.keys() | {PERSON}
    assert {model._meta.label_lower for model in models_here()} - known == set()
    assert known - {model._meta.label_lower for model in models_here()} == set()
    assert not TABLES.keys() & LEFT_OUT.keys()
    assert all(len(reason) > 10 for reason in LEFT_OUT.values())


def test_links_point_back() -> None:
    seen = {PERSON}
    for table in show_tables():
        assert table.leads_to() <= seen, table.name
        seen.add(table.name)
        assert {table_of(link) for link in table.links} <= seen


def test_no_table_left_out_is_linked_to() -> None:
    assert not {to for table in show_tables() for to in table.leads_to()} & LEFT_OUT.keys()


def test_somebody_has_looked_at_every_column_of_json() -> None:
    there = {f"{table.name}.{name}" for table in show_tables() for name in table.documents}
    assert there == KEYS.keys(), "look what it holds, and add it to KEYS"


def test_keys_in_json_are_of_tables_there_are() -> None:
    named = {table for places in KEYS.values() for _, table in places}
    assert named <= TABLES.keys() | {PERSON}


def test_a_column_that_no_two_shows_may_share_has_a_way_of_its_own() -> None:
    alone = set()
    for table in show_tables():
        columns = {one.name: one for one in table.columns}
        sets: list[tuple[str, ...]] = [
            (one.name,) for one in table.columns if one.unique and not one.primary_key
        ]
        for constraint in table.model._meta.constraints:
            if isinstance(constraint, UniqueConstraint):
                sets.append(tuple(constraint.fields))
        for names in sets:
            if not any(isinstance(columns[name], ForeignKey) for name in names):
                alone |= {f"{table.name}.{name}" for name in names}
    ids = {f"{table.name}.{name}" for table in show_tables() for name in table.ids}
    named_too = {"entries.onlinepayment.provider"}  # unique with the reference
    assert alone - ids - named_too <= OWN_WAYS.keys()
    assert OWN_WAYS.keys() <= alone | {"judging.papercard.id"}


def test_shared_rows_are_found_again_by_what_is_unique() -> None:
    for table in show_tables():
        if table.shared:
            wanted = SHARED[table.name]
            fields = [tuple(one.fields) for one in table.model._meta.constraints
                      if isinstance(one, UniqueConstraint)]  # fmt: skip
            single = [(one.name,) for one in table.columns if one.unique]
            assert wanted in (*fields, *single), table.name


def test_no_column_that_sounds_secret_is_archived_as_it_is() -> None:
    found = {
        f"{table.name}.{column.attname}"
        for table in show_tables()
        for column in table.columns
        if SECRET.search(column.attname)
    }
    assert found == set(BLANKED)


def test_ids_made_of_other_things_are_known_to_whoever_restores() -> None:
    """A key of the ledger made of an entry's key would let a fee be charged twice."""
    ours = [
        path
        for path in project_files()
        if path.suffix == ".py" and path.parts[0] in ("entries", "judging", "reports", "showrun")
    ]
    found = {str(path) for path in ours if re.search(r"\buuid5\(", read(path))}
    assert found == MADE_IDS.keys()


def test_every_purpose_of_a_posting_made_once_is_known() -> None:
    from reports.actions.own_ways import PURPOSES

    source = read(Path("entries/actions/charge_entry.py"))
    assert set(re.findall(r'\(\s*"(\w+)", Account\.', source)) == set(PURPOSES)
    callers = [p for p in project_files() if p.suffix == ".py" and "entry_key(" in read(p)]
    assert {str(p) for p in callers if "tests" not in p.parts} == {
        "entries/actions/charge_entry.py",
        "reports/actions/own_ways.py",
    }
    assert (ROOT / "reports/actions/own_ways.py").is_file()

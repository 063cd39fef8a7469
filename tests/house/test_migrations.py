"""A new migration must let the version before it go on: while both run, nobody stops judging.

The rule and the way round each refusal stand in DEVELOPERS.md, "Migrations beside a running
version". Migrations already given out are as they are.
"""

from __future__ import annotations

import importlib
from collections.abc import Iterator, Sequence
from pathlib import Path

import pytest
from django.contrib.postgres.operations import AddIndexConcurrently
from django.db import migrations, models
from django.db.migrations.loader import MigrationLoader
from django.db.migrations.operations.base import Operation
from django.db.models import NOT_PROVIDED

from tests.house.tree import APPS, ROOT, read

# The last migration of each app that servers may have had already.
GIVEN_OUT = {"shows": 3, "entries": 3, "judging": 6, "reports": 4}
# The one that does for a new database what those given out did one after another.
FROM_NOTHING = "0001_from_nothing"
# Put into a new migration beside an operation that is meant all the same, with why.
REASON = "BESIDE_A_RUNNING_VERSION"
# Tables that grow with every touch: an index made in one go would hold phones up on PostgreSQL.
GROWING = {"roundevent", "cardmark", "auditentry", "posting", "postingline", "paper"}


def new_migrations() -> list[Path]:
    """The migrations that came after those given out."""
    found = []
    for app in APPS:
        home = Path(app) / "shows" if app == "showrun" else Path(app)
        for path in sorted((ROOT / home / "migrations").glob("[0-9]*.py")):
            label = "shows" if app == "showrun" else app
            if int(path.name[:4]) > GIVEN_OUT[label]:
                found.append(path.relative_to(ROOT))
    return found


def every(operations: Sequence[Operation]) -> Iterator[Operation]:
    """Each operation, and those inside another."""
    for one in operations:
        yield one
        if isinstance(one, migrations.SeparateDatabaseAndState):
            yield from every(one.database_operations)


def breaks(one: Operation, made: set[str]) -> str:
    """Say what a running older version would trip over; `made` are tables made beside it."""
    table = str(getattr(one, "model_name", "") or getattr(one, "name", "")).lower()
    if isinstance(one, migrations.RemoveField | migrations.DeleteModel):
        return "the old version still asks for it"
    if isinstance(one, migrations.RenameField | migrations.RenameModel):
        return "the old version knows it by the old name"
    if isinstance(one, migrations.AlterModelTable):
        return "the old version knows the table by the old name"
    if isinstance(one, migrations.RunSQL | migrations.RunPython) and not one.reversible:
        return "there is no way back"
    if table in made:
        return ""
    if isinstance(one, migrations.AddField | migrations.AlterField):
        return _field(one)
    if isinstance(one, migrations.AddConstraint):
        return "the old version may write rows that break it"
    if isinstance(one, migrations.AddIndex) and not isinstance(one, AddIndexConcurrently):
        return "making it holds up every writer on PostgreSQL" if table in GROWING else ""
    return ""


def _field(one: migrations.AddField | migrations.AlterField) -> str:
    field = one.field
    if field.null or field.many_to_many or field.db_default is not NOT_PROVIDED:
        return ""
    if isinstance(one, migrations.AddField):
        return "the old version writes rows without it: give it a db_default or let it be null"
    if field.default is NOT_PROVIDED and not field.primary_key:
        return "the old version may leave it empty: not null, without a default"
    return ""


def found_in(operations: Sequence[Operation]) -> list[str]:
    made: set[str] = set()
    told = []
    for one in every(operations):
        if isinstance(one, migrations.CreateModel):
            made.add(one.name.lower())
        elif why := breaks(one, made):
            told.append(f"{one.describe()}: {why}")
    return told


def test_new_migrations_let_the_version_before_go_on() -> None:
    for path in new_migrations():
        module = importlib.import_module(".".join(path.with_suffix("").parts))
        told = found_in(module.Migration.operations)
        reasons = getattr(module, REASON, {})
        assert all(len(str(why)) > 20 for why in reasons.values()), "a reason is a sentence"
        left = [line for line in told if not any(line.startswith(key) for key in reasons)]
        assert left == [], f"{path}: name it in {REASON} with a reason, or do it in two versions"


def test_the_migrations_given_out_are_all_there() -> None:
    for label, last in GIVEN_OUT.items():
        home = ROOT / ("showrun/shows" if label == "shows" else label) / "migrations"
        numbers = sorted(int(o.name[:4]) for o in home.glob("[0-9]*.py") if o.stem != FROM_NOTHING)
        assert numbers[:last] == list(range(1, last + 1))


def test_a_new_database_and_one_that_went_step_by_step_come_to_the_same() -> None:
    at_once = MigrationLoader(None)
    step_by_step = MigrationLoader(None, replace_migrations=False)
    assert {one for one in at_once.graph.nodes if one[1] == FROM_NOTHING} == {
        (label, FROM_NOTHING) for label in GIVEN_OUT
    }
    models, walked = at_once.project_state().models, step_by_step.project_state().models
    assert models.keys() == walked.keys()
    for key, one in models.items():
        for kind in ("constraints", "indexes"):
            for state in (one, walked[key]):
                state.options.get(kind, []).sort(key=lambda rule: rule.name)
        assert one == walked[key], key


TEXT = models.CharField(max_length=9)
NULL = models.CharField(max_length=9, null=True)


@pytest.mark.parametrize(
    ("one", "refused"),
    [
        (migrations.RemoveField("entry", "x"), True),
        (migrations.DeleteModel("entry"), True),
        (migrations.RenameField("entry", "x", "y"), True),
        (migrations.RenameModel("entry", "wagon"), True),
        (migrations.AlterModelTable("entry", "wagons"), True),
        (migrations.AlterField("entry", "x", TEXT), True),
        (migrations.AlterField("entry", "x", NULL), False),
        (migrations.AlterField("entry", "x", models.CharField(max_length=9, default="")), False),
        (migrations.AddField("entry", "x", models.CharField(max_length=9, default="")), True),
        (migrations.AddField("entry", "x", models.CharField(max_length=9, db_default="")), False),
        (migrations.AddField("entry", "x", NULL), False),
        (migrations.AddField("entry", "x", models.ManyToManyField("shows.Show")), False),
        (migrations.AddField("fresh", "x", TEXT), False),
        (migrations.RunSQL("DROP TABLE x"), True),
        (migrations.RunSQL("SELECT 1", migrations.RunSQL.noop), False),
        (migrations.RunPython(lambda *_: None), True),
        (migrations.AddIndex("roundevent", models.Index(fields=["x"], name="n")), True),
        (migrations.AddIndex("show", models.Index(fields=["x"], name="n")), False),
        (AddIndexConcurrently("roundevent", models.Index(fields=["x"], name="n")), False),
        (migrations.AddConstraint("entry", models.UniqueConstraint(fields=["x"], name="n")), True),
        (migrations.SeparateDatabaseAndState([migrations.DeleteModel("entry")]), True),
    ],
    ids=lambda one: type(one).__name__ if isinstance(one, Operation) else str(one),
)
def test_what_is_refused(one: Operation, refused: bool) -> None:
    fresh = migrations.CreateModel("Fresh", [("id", models.AutoField(primary_key=True))])
    assert bool(found_in([fresh, one])) is refused


def test_the_guide_tells_of_it() -> None:
    text = read(Path("DEVELOPERS.md"))
    assert REASON in text
    assert "Migrations beside a running version" in text

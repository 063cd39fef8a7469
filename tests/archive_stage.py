"""A show with a row in every table an archive has, and archives laid beside each other.

`everything()` judges, releases and pays; what no action of that writes is written by hand.
"""

from __future__ import annotations

import json
import zipfile
from collections.abc import Mapping
from datetime import timedelta
from pathlib import Path
from typing import Any
from uuid import uuid4

from django.core.files.base import ContentFile
from django.db import connection

from entries.actions.charge_entry import charge_entry
from entries.models import (
    Animal,
    CampZone,
    CheckIn,
    CrewChange,
    EntryDraft,
    EntryImport,
    EntryTerms,
    OfficeMessage,
    OnlinePayment,
    Outfit,
    Posting,
    PostingLine,
)
from entries.queries.purses import purse_key
from judging.actions.calendar_links import make_calendar_link
from judging.actions.key_card import issue_cards
from judging.actions.seasons import add_class, make_season
from judging.actions.take_paper import paper_of
from judging.models import (
    CalledOffVisit,
    DayRules,
    Device,
    ExhibitorQuery,
    FoodFigures,
    KeyedRow,
    Keying,
    PanelRules,
    Pause,
    Pin,
    PlanJob,
    Question,
    RigReport,
    RoundEvent,
    RoundPhoto,
    SafetyConcern,
    TemperatureReading,
)
from judging.queries.panel_marks import panel_marks
from judging.rules.results.question_words import asked_about
from judging.rules.round.card_hash import plain_number
from reports.actions.export_show import write_archive
from reports.actions.want_papers import want_papers
from reports.models import BundlePart, Paper
from reports.queries.show_tables import (
    LEFT_OUT,
    PERSON,
    Table,
    models_here,
    show_tables,
    table_of,
)
from reports.rules.archive_links import KEYS, rekeyed
from showrun.shows.actions.record import record_change
from showrun.shows.models import Passkey, Show
from tests import judged_show as stage
from tests.food_stage import drawn
from tests.judged_show import AT, class_of, entry_of, judge_of, office_of
from tests.people import PersonFactory
from tests.tampered import unguarded

UNKNOWN = 999_999  # a wagon that nobody has
Row = dict[str, Any]
Places = Mapping[str, Mapping[Any, int]]
# Fingerprints over keys, and what no two shows may share; each has a test of its own.
APART = {
    "shows.show": ("slug",),
    "judging.season": ("slug",),
    "judging.result": ("inputs_hash", "result_hash"),
    "judging.roundevent": ("body_hash",),
    "judging.question": ("asked_about",),
    "entries.posting": ("key",),
    "entries.onlinepayment": ("reference",),
    "reports.paper": ("code",),
}


class Secrets:
    """What must never stand in an archive."""

    token = ""
    calendar = ""


def everything() -> Show:
    """Build the show: judged, released, paid, with at least one row in every table."""
    # Other keys than those of a first show, so that a key taken over is noticed.
    stage.build_show(slug="other-ground", n_entries=1, n_judges=1)
    show = stage.build_show()
    stage.open_window(show)
    phone, Secrets.token = stage.pair(judge_of(show, "J1"))
    seat = judge_of(show, "J1").seats.select_related("entry", "section").earliest("pk")
    stage.send(phone, [stage.remark(seat.entry, seat.section.code, "Dry leather.")])
    stage.mark_everything(show)
    stage.send(
        phone,
        [
            stage.concern(seat.entry, "mend", "loose hub"),
            {**stage.mark(seat.entry, "no_such_row", 1), "entry": UNKNOWN},
        ],
    )
    _questions(show)
    results = stage.release_results(show)
    want_papers(show=show, by=office_of(show), at=AT)
    _files(show, phone, seat.entry)
    _judging(show, phone, seat.entry)
    _entries(show)
    ExhibitorQuery.objects.create(
        result=results[0], entry=entry_of(show, 1), text="Why third?",
        asked_by=entry_of(show, 1).exhibitor, asked_at=AT,
    )  # fmt: skip
    by = office_of(show)
    season = make_season(
        show=show, name="Lantern Season", points=["3", "1"], best_of=None, by=by, at=AT
    )
    add_class(season=season, show_class=class_of(show), by=by, at=AT)
    Secrets.calendar = make_calendar_link(show=show, by=by, at=AT)[1]
    Passkey.objects.create(
        person=by, credential_id="secret-of-a-passkey", credential_hash="0" * 64,
        public_key="key-of-a-passkey", name="Phone", made_at=AT,
    )  # fmt: skip
    by.set_password("a-password")
    by.save()
    _record(show)
    return show


def _questions(show: Show) -> None:
    """Ask about a mark, a card and a day, of the marks there are."""
    panel = panel_marks(show)
    mark = panel.marks[0]
    row, asks = panel.criteria[mark.criterion_id], {"statistic": 4.0, "threshold": 3.5}
    shared = {"judge_id": mark.judge_id, "alpha": 0.05, "asked_at": AT, **asks}
    closed = {**shared, "state": Question.State.CLOSED, "answered_at": AT}
    about = asked_about([(mark.entry_id, row.code, plain_number(mark.value))])
    Question.objects.create(
        **closed, entry_id=mark.entry_id, criterion=row, value=mark.value, asked_about=about
    )
    Question.objects.create(
        **closed, kind="cards", check_name="cards", entry_id=mark.entry_id,
        asked_about=panel.fingerprint(mark.judge_id, [mark.entry_id]),
    )  # fmt: skip
    Question.objects.create(
        **closed, kind="day", check_name="order", asked_about=panel.fingerprint(mark.judge_id)
    )


def _files(show: Show, phone: Device, entry: Any) -> None:
    for n, paper in enumerate(Paper.objects.filter(show=show).order_by("pk")[:3]):
        paper.content_hash = f"{n:064d}"
        paper.file.save("sheet.pdf", ContentFile(b"%PDF-1.7 " + bytes([48 + n])), save=False)
        paper.state, paper.done_at, paper.pages = "done", AT, 1
        paper.save()
    photo = RoundPhoto(
        id=uuid4(), show=show, judge=phone.judge, device=phone, entry=entry, sent_hash="0" * 64,
        width=1, height=1, size_bytes=4, received_at=AT,
    )  # fmt: skip
    photo.file.save("photo.jpg", ContentFile(b"JPEG of a round"))
    first = Paper.objects.filter(show=show).earliest("pk")
    bundle = Paper.objects.create(
        show=show, kind="bundle", version=1, code="BUNDLE000000", wanted_at=AT
    )
    BundlePart.objects.create(bundle=bundle, paper=first, position=1)


def _judging(show: Show, phone: Device, entry: Any) -> None:
    judge, later = phone.judge, AT + timedelta(hours=1)
    event = SafetyConcern.objects.get(judge=judge).event
    rig = entry.rig.facts()
    RigReport.objects.create(
        judge=judge, entry=entry, device=phone, seq=event.seq, event=event, entered=rig,
        facts={**rig, "pattern": "military"}, reported_at=AT, state=RigReport.State.DECLINED,
    )  # fmt: skip
    (card,) = issue_cards(judge=judge, entries=[entry], at=AT)
    paper_of(judge, AT)
    keying = Keying.objects.create(
        card=card, edition=1, turn=1, keyed_by=office_of(show), keyed_at=AT
    )
    KeyedRow.objects.create(keying=keying, place="row:hub", given="7")
    drawn(show)
    food = {"show": show, "figure": "hot_holding", "limit_f": 135, "edition": "2022"}
    told = {**food, "said": "too cool", "read_at": AT, "read_by": office_of(show)}
    first = TemperatureReading.objects.create(food="beans", reading_f="120.5", act_now=True, **told)
    TemperatureReading.objects.create(
        food="beans", reading_f="140.0", act_now=False, corrects=first, reason="Misread.", **told
    )
    FoodFigures.objects.create(show=show, changed={"hot_holding": "140"})
    PanelRules.objects.create(show=show)
    DayRules.objects.create(show=show)
    Pause.objects.create(show=show, starts_at=AT, ends_at=later, why="Cooks' meeting.")
    Pin.objects.create(show=show, judge=judge, entry=entry, must=True, why="Asked for.")
    CalledOffVisit.objects.create(
        show=show, judge=judge, entry=entry, starts_at=AT, ends_at=later, revision=1,
        called_off_at=AT,
    )  # fmt: skip
    rows = [[judge.pk, entry.pk, 0, 9]]
    PlanJob.objects.create(
        show=show, kind="replan", state="done", asked_at=AT, result={"visits": rows},
        case={"seats": [rows[0][:2]], "called_off": [rows[0][:2]], "push": {"visits": rows}},
    )  # fmt: skip


def _entries(show: Show) -> None:
    entry, by = entry_of(show, 1), office_of(show)
    outfit = Outfit.objects.filter(exhibitor=entry.exhibitor).first() or Outfit(
        exhibitor=entry.exhibitor, wagon_name=entry.wagon_name
    )
    for fact, value in entry.rig.facts().items():
        setattr(outfit, fact, value)
    outfit.kept_at = AT
    outfit.save()
    outfit.photo.save("outfit.jpg", ContentFile(b"JPEG of an outfit"))
    entry.kept_outfit = outfit
    entry.photo.save("wagon.jpg", ContentFile(b"JPEG of a wagon"))
    Animal.objects.create(entry=entry, name="Clover", kind="mule", papers_seen_by=by)
    CheckIn.objects.create(entry=entry, arrived_at=AT, changed_at=AT, changed_by=by)
    CrewChange.objects.create(entry=entry, at=AT, by=by, what="added", name="Ada", role="cook")
    EntryDraft.objects.create(
        show=show, exhibitor=PersonFactory.create(), typed={"wagon_name": ["Late"]}, saved_at=AT
    )
    EntryImport.objects.create(
        show=show, file_name="list.csv", sha256="0" * 64, read_at=AT, read_by=by,
        rows=[{"line": 1, "headings": ["Wagon"]}],
    )  # fmt: skip
    EntryTerms.objects.update_or_create(show=show, defaults={"deposit_cents": 2500})
    CampZone.objects.create(show=show, kind="water", name="Creek", x_ft=0, y_ft=0, width_ft=9,
                            depth_ft=9)  # fmt: skip
    OfficeMessage.objects.create(show=show, entry=entry, text="Rain.", sent_at=AT, sent_by=by)
    Show.objects.filter(pk=show.pk).update(entry_fee_cents=15000)
    charged = charge_entry(entry=entry, by=by, at=AT)
    assert charged
    last = Posting.objects.filter(show=show).count()
    shared = {"show": show, "entry": entry, "at": AT, "by": by}
    paid = Posting.objects.create(
        number=last + 1, key=uuid4(), kind="payment", words="Paid", method="online", **shared
    )
    _lines(paid, ("online", 17500), ("exhibitors", -17500))
    OnlinePayment.objects.create(
        entry=entry, amount_cents=17500, provider="any", reference="pay-1", state="paid",
        started_at=AT, started_by=entry.exhibitor, posting=paid,
    )  # fmt: skip
    purse = Posting.objects.create(
        number=last + 2, key=purse_key(class_of(show), entry, 0), kind="purse", words="Purse",
        **shared,
    )  # fmt: skip
    _lines(purse, ("purse", 5000), ("exhibitors", -5000))
    back = Posting.objects.create(
        number=last + 3, key=uuid4(), kind="reversal", words="Back", reverses=purse, **shared
    )
    _lines(back, ("purse", -5000), ("exhibitors", 5000))


def _lines(posting: Posting, *lines: tuple[str, int]) -> None:
    PostingLine.objects.bulk_create(
        PostingLine(posting=posting, account=account, amount_cents=cents)
        for account, cents in lines
    )


def _record(show: Show) -> None:
    """Write lines that hold keys, as the actions that write such lines do."""
    question = Question.objects.filter(judge__show=show).earliest("pk")
    event = SafetyConcern.objects.get(judge__show=show).event
    card = judge_of(show, "J1").sections.earliest("pk").scorecard_id
    for before, after in (
        ({"card": card}, {"card": card, "class": class_of(show).pk}),
        ({"sent": event.body}, {"question": question.pk, "asked": [question.pk]}),
        ([{"sent": event.body}], {"still_held": {str(event.pk): "late"}, "class": "Trail wagon"}),
        (None, {"entry": entry_of(show, 1).pk, "id": Paper.objects.filter(show=show)[0].pk}),
    ):
        record_change(
            show=show, actor=None, at=AT, verb="noted", subject="keys", before=before, after=after
        )


# --- Archives laid beside each other -----------------------------------------------------------


def archived(show: Show, path: Path) -> Path:
    """Write the show's archive there."""
    with path.open("w+b") as out:
        write_archive(show=show, to=out, at=AT)
    return path


def rows_in(path: Path) -> dict[str, list[dict[str, Any]]]:
    """Return every row of an archive by table, people among them."""
    with zipfile.ZipFile(path) as packed:
        manifest = json.loads(packed.read("manifest.json"))
        members = {table: f"rows/{table}.jsonl" for table in manifest["tables"]}
        return {
            table: [json.loads(line) for line in packed.read(member).splitlines()]
            for table, member in {**members, PERSON: "people.jsonl"}.items()
        }


def normalised(path: Path) -> dict[str, list[dict[str, Any]]]:
    """Return an archive's rows with places in their tables for keys, and content for files.

    Left out are addresses and what is a fingerprint over keys; tests hold those to account apart.
    """
    rows = rows_in(path)
    with zipfile.ZipFile(path) as packed:
        files = json.loads(packed.read("manifest.json"))["files"]
    order = {name: _ordered(name, found) for name, found in rows.items()}
    place = {
        name: {row["id"]: n for n, row in enumerate(found, start=1)}
        for name, found in order.items()
    }
    told: dict[str, list[dict[str, Any]]] = {
        PERSON: [{**row, "id": n} for n, row in enumerate(order[PERSON], start=1)]
    }
    for table in show_tables():
        told[table.name] = [_normal(table, dict(row), place, files) for row in order[table.name]]
    return told


def _ordered(name: str, rows: list[dict[str, Any]]) -> list[dict[str, Any]]:
    """Ids that phones made tell no order; what they came with does. Persons by their address."""
    if name == PERSON:
        return sorted(rows, key=lambda row: row["email"])
    if rows and isinstance(rows[0]["id"], str):
        return sorted(rows, key=lambda row: (row["device_id"], row.get("seq"), row["received_at"]))
    return rows


def _normal(table: Table, row: Row, place: Places, files: Mapping[str, str]) -> Row:
    def new_key(to: str, key: int | str) -> int | None:
        return place[to].get(key)

    for name in table.documents:
        row[name] = rekeyed(row[name], KEYS[f"{table.name}.{name}"], new_key)
    for link in table.links:
        row[link.attname] = row[link.attname] and place[table_of(link)][row[link.attname]]
    row["id"] = place[table.name][row["id"]]
    for name in table.files:
        row[name] = files[row[name]] if row[name] else ""
    return {name: value for name, value in row.items() if name not in APART.get(table.name, ())}


@unguarded(RoundEvent)
def altered_event(show: Show) -> None:
    """Give a mark another value than was sent."""
    event = RoundEvent.objects.filter(show=show, kind="mark", applied=True).earliest("received_at")
    RoundEvent.objects.filter(pk=event.pk).update(body={**event.body, "value": "0"})


@unguarded()
def empty_the_instance() -> None:
    """Throw every row of the four apps away, and count from one again."""
    first = [model for model in models_here() if model._meta.label_lower in LEFT_OUT]
    tables = [table.model for table in reversed(show_tables())]
    person = [model for model in models_here() if model._meta.label_lower == PERSON]
    for model in (*first, *tables, *person):
        rows = model._base_manager.all()
        rows._raw_delete(rows.db)  # type: ignore[attr-defined]
    with connection.cursor() as cursor:
        if connection.vendor == "sqlite":
            cursor.execute("DELETE FROM sqlite_sequence")
            return
        for model in (*tables, *person):
            table = model._meta.db_table
            cursor.execute("SELECT pg_get_serial_sequence(%s, 'id')", [table])
            (sequence,) = cursor.fetchone()
            if sequence:
                cursor.execute(f"ALTER SEQUENCE {sequence} RESTART")

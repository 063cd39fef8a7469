"""Feeds against RFC 5545, by rules written out here (sections from memory), not by our own."""

from __future__ import annotations

import re
from datetime import UTC, datetime, timedelta, timezone
from uuid import RFC_4122, UUID

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from icalendar import Calendar

from judging.rules.windows.calendar import FeedVisit, feed, visit_uid

AT = datetime(2027, 5, 15, 14, 0, tzinfo=UTC)
TOLD = datetime(2027, 5, 1, 15, 0, tzinfo=UTC)
# Whatever is in them, no text may start a property of its own.
HOSTILE = [
    'Aunt\'s; "Sons", \\n \\\\ and ; more , :',
    "two\r\nBEGIN:VEVENT\r\nUID:owned\r\nEND:VEVENT",
    "line\u2028end\u0085and\x0b\x0c\x1c\x00\x07bell\x7f",
    "Señor Björn Łukaszewicz-Dvořák " * 9,
    "עגלת האוכל \u202e של דוד",
    "🐎🔥" * 60,
    "W" * 300,
]


def visit(**more: object) -> FeedVisit:
    told: dict[str, object] = {
        "uid": "u1",
        "starts_at": AT,
        "ends_at": AT + timedelta(minutes=12),
        "changed_at": TOLD,
        "sequence": 0,
        "summary": "Judge visit",
    }
    return FeedVisit(**{**told, **more})  # type: ignore[arg-type]


def demand_lines(stream: bytes) -> list[str]:
    """3.1: lines end with CR LF, have 75 octets at most, and are folded before a blank."""
    assert stream.endswith(b"\r\n")
    physical = stream.removesuffix(b"\r\n").split(b"\r\n")
    for octets in physical:
        assert b"\r" not in octets
        assert b"\n" not in octets
        assert 1 <= len(octets) <= 75, octets
        octets.decode()  # no letter is cut in two: all programs but the most careful would choke
    unfolded = stream.decode().replace("\r\n ", "").replace("\r\n\t", "")
    lines = unfolded.removesuffix("\r\n").split("\r\n")
    for line in lines:
        # 3.1 and 3.3.11: a name, parameters, a value without control characters.
        assert re.fullmatch(
            r"[A-Z][A-Z0-9-]*(;[A-Z-]+=[^\x00-\x1f\x7f\":;,]+)*:[^\x00-\x08\x0a-\x1f\x7f]*", line
        )
    return lines


def demand_text(value: str) -> None:
    """3.3.11: a TEXT value escapes the backslash, the semicolon and the comma."""
    assert re.fullmatch(r"(?:[^\\;,]|\\[\\;,nN])*", value), value


def blocks(lines: list[str]) -> list[tuple[str, dict[str, list[str]]]]:
    """Return components with their properties; 3.4 and 3.6: they nest and close in order."""
    found: list[tuple[str, dict[str, list[str]]]] = []
    open_ones: list[tuple[str, dict[str, list[str]]]] = []
    for line in lines:
        name, _, value = line.partition(":")
        if name == "BEGIN":
            open_ones.append((value, {}))
            found.append(open_ones[-1])
        elif name == "END":
            assert open_ones.pop()[0] == value
        else:
            open_ones[-1][1].setdefault(name.split(";")[0], []).append(value)
    assert open_ones == []
    return found


def demand_calendar(stream: bytes) -> list[dict[str, list[str]]]:
    """Hold a stream to RFC 5545 and return its events."""
    (kind, head), *parts = blocks(demand_lines(stream))
    assert kind == "VCALENDAR"
    assert head["VERSION"] == ["2.0"]  # 3.7.4, once and required
    assert len(head["PRODID"]) == 1  # 3.7.3, once and required
    assert "METHOD" not in head  # 3.7.2: with it, RFC 5546 would ask for an organizer
    assert parts  # 3.4: one component at least
    events = [fields for name, fields in parts if name == "VEVENT"]
    for event in events:
        for once in (
            "UID",
            "DTSTAMP",
            "DTSTART",
            "DTEND",
            "SEQUENCE",
            "STATUS",
            "SUMMARY",
            "LAST-MODIFIED",
        ):
            assert len(event[once]) == 1, once  # 3.6.1
        for instant in ("DTSTAMP", "DTSTART", "DTEND", "LAST-MODIFIED"):
            assert re.fullmatch(r"\d{8}T\d{6}Z", event[instant][0])  # 3.3.5, form 2: UTC
        assert event["DTEND"] > event["DTSTART"]  # 3.8.2.2
        assert event["STATUS"][0] in ("CONFIRMED", "CANCELLED")  # 3.8.1.11
        assert re.fullmatch(r"\d+", event["SEQUENCE"][0])  # 3.8.7.4
        assert event["DTSTAMP"] == event["LAST-MODIFIED"]  # 3.8.7.2, without METHOD
        assert "DURATION" not in event  # 3.6.1: not beside DTEND
        for text in ("SUMMARY", "LOCATION", "DESCRIPTION"):
            for value in event.get(text, []):
                demand_text(value)
    uids = [event["UID"][0] for event in events]
    assert len(set(uids)) == len(uids)  # 3.8.4.7
    return events


def test_a_visit_is_told_as_it_was_announced() -> None:
    mountain = timezone(timedelta(hours=-6))
    stream = feed(
        "Wagon 7",
        [
            visit(
                starts_at=datetime(2027, 5, 15, 8, 0, tzinfo=mountain),
                ends_at=datetime(2027, 5, 15, 8, 12, tzinfo=mountain),
                changed_at=datetime(2027, 5, 14, 23, 30, tzinfo=mountain),
                sequence=3,
                place="Camp spot 12",
                description="Looks at: Harness\nLocal officials decide.",
            )
        ],
    )
    (event,) = demand_calendar(stream)
    assert event["DTSTART"] == ["20270515T140000Z"]
    assert event["DTEND"] == ["20270515T141200Z"]
    assert event["LAST-MODIFIED"] == ["20270515T053000Z"]
    assert event["SEQUENCE"] == ["3"]
    assert event["STATUS"] == ["CONFIRMED"]
    assert event["LOCATION"] == ["Camp spot 12"]
    assert event["DESCRIPTION"] == ["Looks at: Harness\\nLocal officials decide."]


def test_a_visit_called_off_is_struck_out() -> None:
    (event,) = demand_calendar(feed("All", [visit(called_off=True, sequence=2)]))
    assert event["STATUS"] == ["CANCELLED"]
    assert event["SEQUENCE"] == ["2"]


def test_programs_are_asked_to_read_again_soon() -> None:
    lines = demand_lines(feed("All", [visit()]))
    assert "REFRESH-INTERVAL;VALUE=DURATION:PT15M" in lines  # RFC 7986, 5.7: the type is required
    assert "X-PUBLISHED-TTL:PT15M" in lines
    assert "NAME:All" in lines


def test_without_visits_there_is_a_calendar_all_the_same() -> None:
    stream = feed("All", [])
    assert demand_calendar(stream) == []
    assert Calendar.from_ical(stream).events == []


@pytest.mark.parametrize("words", HOSTILE)
def test_hostile_words_stay_words(words: str) -> None:
    told = [
        visit(uid="u1", summary=words, place=words, description=words),
        visit(uid="u2", starts_at=AT + timedelta(hours=1), ends_at=AT + timedelta(hours=2)),
    ]
    stream = feed(words, told)
    events = demand_calendar(stream)
    assert [event["UID"] for event in events] == [["u1"], ["u2"]]
    first = Calendar.from_ical(stream).events[0]
    kept = re.sub(r"[\x00-\x08\x0b-\x1f\x7f-\x9f\u2028\u2029]", " ", words.replace("\r\n", "\n"))
    assert str(first["summary"]) == str(first["location"]) == str(first["description"]) == kept


@given(words=st.text(max_size=200), seconds=st.integers(60, 10**6))
@settings(max_examples=150, deadline=None)
def test_any_words_make_a_sound_stream_that_reads_back(words: str, seconds: int) -> None:
    ends_at = AT + timedelta(seconds=seconds)
    stream = feed(words, [visit(summary=words, ends_at=ends_at)])
    demand_calendar(stream)
    (read,) = Calendar.from_ical(stream).events
    assert read.start == AT
    assert read.end == ends_at
    assert len(str(read["summary"])) == len(words.replace("\r\n", "\n"))


def test_order_does_not_matter_to_the_bytes() -> None:
    told = [visit(uid=f"u{n}", starts_at=AT - timedelta(minutes=n % 3)) for n in range(6)]
    assert feed("All", told) == feed("All", reversed(told))


@pytest.mark.parametrize(
    ("fault", "says"),
    [
        ({"starts_at": AT.replace(tzinfo=None)}, "no zone"),
        ({"changed_at": TOLD.replace(tzinfo=None)}, "no zone"),
        ({"ends_at": AT}, "no time"),
    ],
)
def test_times_that_mean_nothing_are_refused(fault: dict[str, object], says: str) -> None:
    with pytest.raises(ValueError, match=says):
        feed("All", [visit(**fault)])


def test_a_visits_name_is_the_same_for_ever_and_no_other_visits() -> None:
    names = {
        visit_uid(b"key", show, judge, entry)
        for show in ("days", "days-2")
        for judge in ("J1", "J11", "J2")
        for entry in ("1", "11", "2")
    }
    assert len(names) == 18
    assert visit_uid(b"key", "days", "J1", "7") == visit_uid(b"key", "days", "J1", "7")
    # Names that run together to the same text do not meet.
    assert visit_uid(b"key", "days", "J1", "17") != visit_uid(b"key", "days", "J11", "7")


def test_a_visits_name_does_not_tell_the_judge_without_the_key() -> None:
    name = visit_uid(b"key", "days", "J1", "7")
    tried = {visit_uid(b"other", "days", f"J{n}", "7") for n in range(100)}
    assert name not in tried
    # RFC 9562, 5.8: version 8 in the variant of the RFC.
    assert UUID(name).version == 8
    assert UUID(name).variant == RFC_4122

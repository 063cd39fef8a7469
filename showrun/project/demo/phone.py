"""A judge's phone in the unattended run: it keeps a count, sends batches, repeats, reorders."""

from __future__ import annotations

from typing import Any, Protocol
from uuid import uuid4

import httpx

from showrun.project.demo.scenario import Scenario

Json = dict[str, Any]
# A kept connection may be dropped by the server in the moment it is used again.
FRESH = httpx.Limits(max_keepalive_connections=0)


class Counts(Protocol):
    """Where outcomes are counted."""

    events_sent: int
    outcomes: dict[str, int]
    sent: list[Json]


class Phone:
    """One paired phone."""

    def __init__(self, base: str, code: str, *, label: str, seen: Counts) -> None:
        self.http = httpx.Client(base_url=base, timeout=60, limits=FRESH)
        paired = self.http.post("/api/v1/device/pair", json={"code": code, "label": label})
        paired.raise_for_status()
        self.http.headers["Authorization"] = f"Bearer {paired.json()['token']}"
        self.seen, self.seq = seen, 0
        self.slip: Json | None = None
        self.rig: Json | None = None
        self.round = self.fetch()
        self.judge = self.round["judge"]["code"]

    def fetch(self) -> Json:
        """Fetch the round."""
        answer = self.http.get("/api/v1/device/round")
        answer.raise_for_status()
        return dict(answer.json())

    def open_questions(self) -> list[Json]:
        """Fetch the questions that wait for this judge."""
        return [q for q in self.fetch()["questions"] if q["state"] == "open"]

    def stamp(self, event: Json) -> Json:
        """Give a touch its id and its place in the count."""
        self.seq += 1
        return {"id": str(uuid4()), "seq": self.seq, "at": "2027-05-15T09:00:00-06:00", **event}

    def send(self, events: list[Json], size: int = 40) -> None:
        """Send touches in batches, in order."""
        stamped = [event if "id" in event else self.stamp(event) for event in events]
        for start in range(0, len(stamped), size):
            self._post(stamped[start : start + size])

    def send_round(self, events: list[Json], batches: Json, judge: str) -> None:
        """Send a round in batches, with what the network does to them by the story."""
        odd = {o["batch"]: o for o in batches["oddities"] if o["judge"] == judge}
        stamped = [event if "id" in event else self.stamp(event) for event in events]
        size = batches["size"]
        groups = [stamped[start : start + size] for start in range(0, len(stamped), size)]
        for number, group in enumerate(groups, start=1):
            oddity = odd.get(number, {"kind": "none"})
            if oddity["kind"] == "reversed":
                group.reverse()
            if oddity["kind"] == "bad_event":
                group.insert(oddity["position"] - 1, self._bad(group, oddity))
            for _ in range(oddity.get("times", 1)):
                self._post(group)

    def _bad(self, group: list[Json], oddity: Json) -> Json:
        copied = next(event for event in group if event["kind"] == "mark")
        touch = {k: copied[k] for k in ("kind", "entry", "criterion", "state")}
        return self.stamp({**touch, "value": str(oddity["mark"])})

    def _post(self, group: list[Json]) -> None:
        answer = self.http.post("/api/v1/device/events", json={"unsent": 0, "events": group})
        answer.raise_for_status()
        results = answer.json()["results"]
        self.seen.events_sent += len(group)
        for event, outcome in zip(group, results, strict=True):
            status = outcome["status"]
            self.seen.outcomes[status] = self.seen.outcomes.get(status, 0) + 1
            self.seen.sent.append({"judge": self.judge, "outcome": outcome, **event})


def judges_events(phone: Phone, scenario: Scenario, judge: str) -> tuple[list[Json], list[Json]]:
    """Return what a judge touches over the round, and the touches of the card kept back."""
    sections = {s["code"]: s for s in phone.round["card"]["sections"]}
    late_entry = _late_entry(phone, scenario, judge)
    slip = _slip(phone, scenario, judge)
    words = _words(phone, scenario, judge)
    now: list[Json] = []
    late: list[Json] = []
    for visit in phone.round["visits"]:
        entry = visit["entry"]
        touches: list[Json] = []
        found = _found(phone, scenario, judge, entry)
        if found:
            phone.rig = found
            touches.append(found)
        rig = found["rig"] if found else entry["rig"]
        for code in visit["sections"]:
            for row in sections[code]["criteria"]:
                if not _applies(row["applies"], rig):
                    continue
                meant = scenario.marks[entry["number"], judge][row["code"]]
                written = meant
                if slip and (entry["number"], row["code"]) == slip:
                    written = str(scenario.story["slip"]["written"])
                    phone.slip = {"entry": entry["id"], "criterion": row["code"], "meant": meant}
                touches.append(_mark(entry["id"], row["code"], written))
            touches.extend(words.get((entry["number"], code), ()))
        touches.append({"kind": "hand_in", "entry": entry["id"]})
        (late if entry["number"] == late_entry else now).extend(touches)
    return [phone.stamp(event) for event in now], [phone.stamp(event) for event in late]


def practice_events(phone: Phone, scenario: Scenario, judge: str) -> list[Json]:
    """Return what a judge touches at the practice wagon."""
    bundle = phone.fetch()
    sections = {s["code"]: s for s in bundle["card"]["sections"]}
    visit = next(v for v in bundle["visits"] if v["practice"])
    entry = visit["entry"]
    meant = scenario.marks[scenario.story["practice"]["rig_of"], judge]
    touches = [
        _mark(entry["id"], row["code"], meant[row["code"]])
        for code in visit["sections"]
        for row in sections[code]["criteria"]
        if _applies(row["applies"], entry["rig"])
    ]
    return [*touches, {"kind": "hand_in", "entry": entry["id"]}]


def rows_that_came_back(phone: Phone, scenario: Scenario, judge: str) -> list[Json]:
    """Mark what lacks once the office has left the rig as it was entered, and hand in."""
    assert phone.rig
    bundle = phone.fetch()
    sections = {s["code"]: s for s in bundle["card"]["sections"]}
    visit = next(v for v in bundle["visits"] if v["entry"]["id"] == phone.rig["entry"])
    entry, marks = visit["entry"], visit["card"]["marks"]
    lacking = [
        row["code"]
        for code in visit["sections"]
        for row in sections[code]["criteria"]
        if _applies(row["applies"], entry["rig"]) and row["code"] not in marks
    ]
    meant = scenario.marks[entry["number"], judge]
    touches = [_mark(entry["id"], code, meant[code]) for code in lacking]
    return [*touches, {"kind": "hand_in", "entry": entry["id"]}]


def _found(phone: Phone, scenario: Scenario, judge: str, entry: Json) -> Json | None:
    """The touch of a judge who finds another rig than was entered."""
    story = scenario.story["rig_at_wagon"]
    here = _nth(phone, story["section"], story["nth_seat"]) if story["judge"] == judge else None
    if here is None or here["id"] != entry["id"]:
        return None
    other = {"leather": "chain", "chain": "leather"}[entry["rig"]["draft"]]
    rig = {**entry["rig"], "draft": other}
    return {"kind": "rig", "entry": entry["id"], "rig": rig, "text": story["text"]}


def _mark(entry: int, criterion: str, value: str) -> Json:
    return {
        "kind": "mark",
        "entry": entry,
        "criterion": criterion,
        "state": "marked",
        "value": value,
    }


def _applies(condition: dict[str, list[str]], rig: dict[str, str]) -> bool:
    return all(rig[fact] in values for fact, values in condition.items())


def _seats(phone: Phone, section: str) -> list[Json]:
    """The entries at which the judge has this section, by number."""
    visits = [v["entry"] for v in phone.round["visits"] if section in v["sections"]]
    return sorted(visits, key=lambda entry: int(entry["number"]))


def _nth(phone: Phone, section: str, nth: int) -> Json:
    seats = _seats(phone, section)
    return seats[min(nth, len(seats)) - 1]


def _late_entry(phone: Phone, scenario: Scenario, judge: str) -> int | None:
    missing = scenario.story["missing_card"]
    if missing["judge"] != judge:
        return None
    numbers = sorted(v["entry"]["number"] for v in phone.round["visits"])
    later = [number for number in numbers if number >= missing["entry"]]
    return int((later or numbers)[0])


def _slip(phone: Phone, scenario: Scenario, judge: str) -> tuple[int, str] | None:
    slip = scenario.story["slip"]
    if slip["judge"] != judge:
        return None
    return _nth(phone, slip["section"], slip["nth_seat"])["number"], slip["criterion"]


def _words(phone: Phone, scenario: Scenario, judge: str) -> dict[tuple[int, str], list[Json]]:
    """Remarks and safety concerns, by entry number and section."""
    found: dict[tuple[int, str], list[Json]] = {}
    for section, texts in scenario.story["remarks"].get(judge, {}).items():
        for entry, text in zip(_seats(phone, section), texts, strict=False):
            remark = {"kind": "remark", "entry": entry["id"], "section": section, "text": text}
            found.setdefault((entry["number"], section), []).append(remark)
    for concern in scenario.story["concerns"]:
        if concern["judge"] != judge:
            continue
        entry = _nth(phone, concern["section"], concern["nth_seat"])
        raised = {
            "kind": "concern",
            "entry": entry["id"],
            "criterion": concern["criterion"],
            "degree": concern["level"],
            "text": concern["text"],
        }
        found.setdefault((entry["number"], concern["section"]), []).append(raised)
    return found

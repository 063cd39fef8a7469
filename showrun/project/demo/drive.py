"""Drives the invented show from entry to award sheet over HTTP, as its people would.

It signs people in by their links, enters wagons, draws the panel, pairs phones, sends what
judges touch, answers the question, signs, releases and fetches the papers. Whatever does not
answer as it should ends the run with the reason.
"""

from __future__ import annotations

import json
import time
from collections.abc import Callable, Iterable
from dataclasses import dataclass, field
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import httpx

from showrun.project.demo.money import drive_money
from showrun.project.demo.phone import (
    FRESH,
    Phone,
    judges_events,
    practice_events,
    rows_that_came_back,
)
from showrun.project.demo.scenario import Scenario, details_form, entry_body

Json = dict[str, Any]
NEXT_PAPER_WITHIN_S = 180  # a worker gives way to all else that runs on the machine


class DriveFailed(Exception):
    """The service did not do what the show needs; the message says where."""


@dataclass
class Seen:
    """What the run saw, for its report."""

    events_sent: int = 0
    outcomes: dict[str, int] = field(default_factory=dict)
    refusals: list[Json] = field(default_factory=list)
    questions: list[Json] = field(default_factory=list)
    sent: list[Json] = field(default_factory=list)


class Person:
    """Somebody signed in, with their browser's cookies."""

    def __init__(self, base: str, link: str) -> None:
        self.http = httpx.Client(base_url=base, follow_redirects=True, timeout=60, limits=FRESH)
        url = httpx.URL(link)
        self.get(url.raw_path.decode())
        form = {"sesame": url.params["sesame"]}
        self._expect(self.http.post(url.path, data=form, headers=self._token()), 200)

    def _token(self) -> dict[str, str]:
        return {"X-CSRFToken": self.http.cookies.get("csrftoken") or ""}

    def _expect(self, answer: httpx.Response, status: int) -> httpx.Response:
        if answer.status_code != status:
            request = answer.request
            raise DriveFailed(
                f"{request.method} {request.url.path} gave {answer.status_code} instead of "
                f"{status}: {answer.text[:400]}"
            )
        return answer

    def get(self, path: str, status: int = 200) -> httpx.Response:
        """Fetch an address, expecting the status."""
        return self._expect(self.http.get(path), status)

    def post(self, path: str, body: Json | None = None, status: int = 200) -> Json:
        """Send JSON, expecting the status."""
        answer = self.http.post(f"/api/v1{path}", json=body or {}, headers=self._token())
        return dict(self._expect(answer, status).json())

    def send_form(self, path: str, form: Json) -> str:
        """Send a page's form and return the page it leads to."""
        return self._expect(self.http.post(path, data=form, headers=self._token()), 200).text

    def api(self, path: str) -> Any:
        """Fetch from the API."""
        return self.get(f"/api/v1{path}").json()


class Drive:
    """The run, step by step."""

    def __init__(
        self,
        *,
        base: str,
        scenario: Scenario,
        link_for: Callable[[str], str],
        out: Path,
        say: Callable[[str], None],
    ) -> None:
        self.base, self.scenario, self.link_for = base, scenario, link_for
        self.out, self.say = out, say
        self.slug = scenario.meta["slug"]
        self.seen = Seen()
        self.office = self._sign_in(scenario.office("show_secretary")["email"])
        self.steward = self._sign_in(scenario.office("steward")["email"])
        self.exhibitors: dict[int, Person] = {}
        self.entries: dict[int, int] = {}
        self.judges: dict[str, int] = {}
        self.phones: dict[str, Phone] = {}

    def run(self) -> Json:
        """Go through the whole show and return its results."""
        self.take_entries()
        self.engage_judges()
        self.draw_panel()
        self.open_window()
        self.pair_phones()
        self.agree_on_the_scale()
        late = self.judge()
        self.settle_concerns_and_held()
        self.settle_rig()
        self.meet_incomplete(late)
        results = self.sign_and_release()
        self.make_papers()
        return self.write(results)

    # --- before the day -------------------------------------------------------------------
    def _sign_in(self, email: str) -> Person:
        return Person(self.base, self.link_for(email))

    def take_entries(self) -> None:
        """Everybody enters; the office confirms; the one over the cap waits."""
        waiting = []
        for line in self.scenario.all_entries:
            exhibitor = self._sign_in(line["exhibitor_email"])
            taken = exhibitor.post(f"/shows/{self.slug}/entries", entry_body(line), 201)
            form = details_form(line, today=datetime.now(UTC).date())
            exhibitor.send_form(f"/entries/{taken['id']}/details/", form)
            if taken["status"] == "waiting":
                waiting.append(taken["id"])
                continue
            confirmed = self.office.post(
                f"/entries/{taken['id']}/confirm", {"spot": line["camp_spot"]}
            )
            self._hold(confirmed["number"] == line["number"], "entry numbers follow the order")
            self.entries[line["number"]] = taken["id"]
            self.exhibitors[line["number"]] = exhibitor
        self._hold(len(waiting) == len(self.scenario.show["over_the_cap"]), "one entry waits")
        self._refused(self.office, f"/entries/{waiting[0]}/confirm", 409)
        self.say(f"{len(self.entries)} entries confirmed, {len(waiting)} on the wait list")
        paid = drive_money(self.scenario, self.entries, self.office.send_form)
        self.say(f"{paid} payments taken, one of them posted wrong and undone first")

    def engage_judges(self) -> None:
        """The office engages the judges and records their conflicts."""
        for line in self.scenario.show["people"]["judges"]:
            body = {key: line[key] for key in ("email", "name", "code", "sections")}
            judge = self.office.post(f"/shows/{self.slug}/judges", body, 201)
            self.judges[line["code"]] = judge["id"]
        for line in self.scenario.show["conflicts"]:
            body = {
                "entry": self.entries[line["entry"]],
                "kind": line["kind"],
                "reason": line["reason"],
            }
            self.office.post(f"/judges/{self.judges[line['judge']]}/conflicts", body, 201)
        count = len(self.scenario.show["conflicts"])
        self.say(f"{len(self.judges)} judges engaged, {count} conflicts declared")

    def draw_panel(self) -> None:
        """Nobody in conflict is seated; every section of every entry has its judges."""
        panel = self.office.post(f"/shows/{self.slug}/panel", {"seed": 1}, 201)
        seated = {(seat["judge"], seat["entry"]) for seat in panel["seats"]}
        barred = {(line["judge"], line["entry"]) for line in self.scenario.show["conflicts"]}
        self._hold(not seated & barred, "no judge in conflict is seated")
        loads = ", ".join(f"{code} {load}" for code, load in sorted(panel["loads"].items()))
        self.say(f"panel drawn: {len(panel['seats'])} seats ({loads})")

    def open_window(self) -> None:
        """The window is sized to the wagons and published."""
        window = self.office.post(f"/shows/{self.slug}/window", status=201)
        self._hold(window["fits"], "the visits fit the window")
        window = self.office.post(f"/shows/{self.slug}/window/publish")
        self._write("timetable.json", window)
        self.say(
            f"window: {window['needed_minutes']} of {window['available_minutes']} minutes, "
            f"no rotation under {window['bound_minutes']}"
        )

    # --- the day --------------------------------------------------------------------------
    def pair_phones(self) -> None:
        """Each judge's phone is paired by a code that works once."""
        for code, judge_id in self.judges.items():
            pairing = self.office.post(f"/judges/{judge_id}/pairings", status=201)
            phone = Phone(self.base, pairing["code"], label=f"phone of {code}", seen=self.seen)
            self.phones[code] = phone
            again = httpx.post(
                f"{self.base}/api/v1/device/pair", json={"code": pairing["code"]}, timeout=30
            )
            self._hold(again.status_code == 410, "a used code is refused")
        self.say(f"{len(self.phones)} phones paired")

    def agree_on_the_scale(self) -> None:
        """All judges mark the practice wagon; what they gave is compared and never counts."""
        story = self.scenario.story["practice"]
        rig = next(e["rig"] for e in self.scenario.all_entries if e["number"] == story["rig_of"])
        path = f"/shows/{self.slug}/office/norming/"
        planted = "\n".join(story["planted"])
        form = {"do": "set-up", "wagon_name": story["wagon"], "planted": planted, **rig}
        self.office.send_form(path, form)
        for code, phone in self.phones.items():
            phone.send(practice_events(phone, self.scenario, code))
        page = self.office.send_form(path, {"do": "close"})
        self._hold(all(code in page for code in self.phones), "every judge's practice is compared")
        progress = self.office.api(f"/shows/{self.slug}/progress")
        self._hold(progress["cards_in"] == 0, "the practice wagon does not count")
        self.say(f"{len(self.phones)} judges marked the practice wagon and compared")

    def judge(self) -> tuple[Phone, list[Json]]:
        """All judges send their round; one card stays behind. Returns it."""
        story = self.scenario.story
        late: list[Json] = []
        for code, phone in self.phones.items():
            events, kept_back = judges_events(phone, self.scenario, code)
            late.extend(kept_back)
            phone.send_round(events, story["batches"], code)
            self.say(f"{code}: {len(events)} events sent")
        self._hold(bool(late), "one card is kept back")
        self._hold(self.seen.outcomes.get("held", 0) >= 1, "the mark over its maximum is held")
        return self.phones[story["missing_card"]["judge"]], late

    def settle_concerns_and_held(self) -> None:
        """The office sees the safety concerns and notes what it did about the held event."""
        progress = self.office.api(f"/shows/{self.slug}/progress")
        for concern in progress["concerns"]:
            self.steward.post(f"/concerns/{concern['id']}/seen")
        held = [event for event in progress["held"] if event["code"] == "mark-over-maximum"]
        self._hold(len(held) == 1, "exactly one mark over its maximum is kept for the office")
        self.office.post(
            f"/events/{held[0]['id']}/settle", {"note": "Thumb slip; the judge marked the row."}
        )
        self.say(
            f"{progress['cards_in']} of {progress['cards_expected']} cards in, "
            f"{len(progress['concerns'])} safety concerns seen, {len(held)} held event settled"
        )

    def settle_rig(self) -> None:
        """A rig found other than entered stops the result until the office has settled it."""
        story = self.scenario.story["rig_at_wagon"]
        reports = self.office.api(f"/shows/{self.slug}/rig-reports")
        self._hold(len(reports) == 1, "one rig was found other than it was entered")
        codes = {self._compute(class_id).get("code") for class_id in self._classes().values()}
        self._hold("rig-open" in codes, "a class with a rig in question has no result")
        settled = self.steward.post(
            f"/rig-reports/{reports[0]['id']}/settle",
            {"verdict": "decline", "note": story["note"]},
        )
        self._hold(settled["state"] == story["settled"], "the rig stays as it was entered")
        phone = self.phones[story["judge"]]
        rest = rows_that_came_back(phone, self.scenario, story["judge"])
        self._hold(len(rest) > 1, "rows came back with the rig")
        phone.send(rest)
        self.say(f"rig of wagon {reports[0]['entry']} settled; {len(rest) - 1} rows marked again")

    def meet_incomplete(self, late: tuple[Phone, list[Json]]) -> None:
        """With a card missing there is no result; then the card arrives."""
        phone, events = late
        incomplete = [
            code
            for code, class_id in self._classes().items()
            if self._compute(class_id).get("code") == "incomplete"
        ]
        self._hold(bool(incomplete), "a class with a missing card has no result")
        phone.send(events)
        self.say(f"held as incomplete: {', '.join(incomplete)}; the missing card arrived")

    def sign_and_release(self) -> Json:
        """Check, answer, sign by two hands, release."""
        first = {code: self._compute(pk) for code, pk in self._classes().items()}
        self._hold(all("placings" in result for result in first.values()), "all classes compute")
        self._answer_questions()
        results = {code: self._compute(pk) for code, pk in self._classes().items()}
        exhibitor = next(iter(self.exhibitors.values()))
        for code, result in results.items():
            self._hold(
                result["version"] >= first[code]["version"], "a correction makes a new version"
            )
            self._refused(self.office, f"/results/{result['id']}/release", 409)
            self.office.post(f"/results/{result['id']}/sign")
            self._refused(self.office, f"/results/{result['id']}/sign", 409)
            self.steward.post(f"/results/{result['id']}/sign")
        self._hold(
            httpx.get(f"{self.base}/api/v1/shows/{self.slug}/results", timeout=30).json() == [],
            "nothing is public before release",
        )
        entry = next(iter(self.entries.values()))
        told = exhibitor.get(f"/entries/{entry}/papers/feedback/", status=403).text
        self._hold("not released yet" in told, "the owner is told in plain words")
        for result in results.values():
            self.office.post(f"/results/{result['id']}/release")
        self.say(f"{len(results)} classes signed by two hands and released")
        public = httpx.get(f"{self.base}/api/v1/shows/{self.slug}/results", timeout=30).json()
        return {result["show_class"]: result for result in public}

    def _answer_questions(self) -> None:
        """Each judge answers on the phone; the slip is corrected to what was meant."""
        story = self.scenario.story["slip"]
        corrected = 0
        for code, phone in self.phones.items():
            for question in phone.open_questions():
                slip = phone.slip
                is_slip = slip is not None and (question["entry"], question["criterion"]) == (
                    slip["entry"],
                    slip["criterion"],
                )
                answer = {
                    "kind": "answer",
                    "question": question["id"],
                    "verdict": "correct" if is_slip else "confirm",
                    "value": slip["meant"] if slip and is_slip else None,
                    "text": story["reason"] if is_slip else "As I saw it.",
                }
                self.seen.questions.append({"judge": code, **question, "answer": answer})
                phone.send([answer])
                corrected += is_slip
        self._hold(corrected == 1, "the slip is asked about and corrected")
        self.say(f"{len(self.seen.questions)} question(s) asked, {corrected} mark corrected")

    def make_papers(self) -> None:
        """Workers draw the papers; the office watches and fetches them."""
        folder = self.out / "papers"
        folder.mkdir(parents=True, exist_ok=True)
        self.office.post(f"/shows/{self.slug}/papers", status=202)
        until, told = 0.0, None
        while True:
            listed = self.office.api(f"/shows/{self.slug}/papers?limit=500")
            progress = listed["progress"]
            if progress["done"] != told:
                told, until = progress["done"], time.monotonic() + NEXT_PAPER_WITHIN_S
                self.say(f"papers: {told} of {progress['total']}")
            if not progress["unfinished"]:
                break
            if time.monotonic() > until:
                raise DriveFailed(f"No paper more was drawn in {NEXT_PAPER_WITHIN_S} s.")
            time.sleep(1)
        self._hold(progress["done"] == progress["total"] > 0, f"all papers are drawn: {progress}")
        for paper in listed["papers"]:
            pdf = self.office.get(paper["file"]).content
            self._hold(pdf.startswith(b"%PDF-"), "a paper is a PDF")
            number = paper["entry_number"]
            nth = "" if number is None else f"-{number:02d}"
            (folder / f"{paper['kind']}-{paper['show_class']}{nth}.pdf").write_bytes(pdf)
        number, exhibitor = next(iter(self.exhibitors.items()))
        own = exhibitor.get(f"/entries/{self.entries[number]}/papers/feedback/")
        self._hold(own.content.startswith(b"%PDF-"), "the exhibitor fetches their own sheet")
        other = next(n for n in self.exhibitors if n != number)
        exhibitor.get(f"/entries/{self.entries[other]}/papers/feedback/", status=404)

    # --- small change ---------------------------------------------------------------------
    def _classes(self) -> dict[str, int]:
        show = self.office.api(f"/shows/{self.slug}")
        return {line["code"]: line["id"] for line in show["classes"]}

    def _compute(self, class_id: int) -> Json:
        answer = self.office.http.post(
            f"/api/v1/classes/{class_id}/result", json={}, headers=self.office._token()
        )
        if answer.status_code not in (200, 409):
            raise DriveFailed(f"computing class {class_id}: {answer.status_code} {answer.text}")
        return dict(answer.json())

    def _refused(self, person: Person, path: str, status: int) -> None:
        self.seen.refusals.append({"path": path, **person.post(path, status=status)})

    def _hold(self, true: bool, what: str) -> None:
        if not true:
            raise DriveFailed(f"It does not hold that {what}.")

    def _write(self, name: str, body: Any) -> None:
        self.out.mkdir(parents=True, exist_ok=True)
        text = json.dumps(body, indent=2, ensure_ascii=False)
        (self.out / name).write_text(text + "\n", encoding="utf-8")

    def write(self, results: Json) -> Json:
        """Write what the run saw and return it."""
        body = {
            "show": self.slug,
            "results": results,
            "events": {"sent": self.seen.events_sent, "outcomes": self.seen.outcomes},
            "questions": self.seen.questions,
            "refusals": self.seen.refusals,
        }
        self._write("results.json", body)
        lines: Iterable[str] = (json.dumps(event, ensure_ascii=False) for event in self.seen.sent)
        (self.out / "events.jsonl").write_text("\n".join(lines) + "\n", encoding="utf-8")
        return body

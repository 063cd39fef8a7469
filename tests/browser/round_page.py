"""The judge's round as a test handles it: what a judge sees and taps, and what is kept."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from io import BytesIO
from typing import Any

import httpx
from PIL import Image
from playwright.sync_api import FilePayload, Locator, Page, expect

# The script the page runs; what it exports is of the very page on the screen.
SCRIPT = "/static/judging/offline/page.js"

MAKER = "Tin Lantern"
# Keys rest a moment after each mark, so each is tapped until its mark shows; a row that never
# takes it is shown as it stands, for nothing else would end the waiting.
# A row rests after a mark so that no finger marks two; no finger taps here, so nothing rests long.
FILL_CARD = """async value => {
    const slowly = window.setTimeout;
    const wait = (ms) => new Promise((go) => slowly(go, ms));
    window.setTimeout = (then, ms, ...rest) => slowly(then, ms === 350 ? 0 : ms, ...rest);
    for (;;) {
        const code = document.querySelector('.crit:has(.given.none)')?.dataset.row;
        if (!code) break;
        const row = `.crit[data-row='${code}']`;
        const until = Date.now() + 30000;
        while (!document.querySelector(`${row} .given[data-mark='${value}']`)) {
            if (Date.now() > until) throw new Error(document.body.innerText);
            const line = document.querySelector(`${row} .line[aria-expanded=false]`);
            (line ?? document.querySelector(`${row} .key[data-key='${value}']`))?.click();
            await wait(10);
        }
    }
    window.setTimeout = slowly;
}"""


@cache
def camera_picture(width: int = 3000, height: int = 2000) -> FilePayload:
    """A large photo as a camera makes it, with a note of the camera's own beside the picture."""
    made, noted = BytesIO(), Image.Exif()
    noted[0x010F] = MAKER
    picture = Image.effect_noise((width, height), 60).convert("RGB")
    picture.save(made, "JPEG", quality=92, exif=noted)
    return {"name": "photo.jpg", "mimeType": "image/jpeg", "buffer": made.getvalue()}


@dataclass(frozen=True)
class Look:
    """How a judge wants the page to look, and the screen it is on."""

    theme: str
    hand: str = "right"
    width: int = 390
    height: int = 844

    def __str__(self) -> str:
        """Name it where a test fails."""
        return f"{self.theme}, {self.hand} hand, {self.width} x {self.height}"


class RoundPage:
    """One tab of one phone."""

    def __init__(self, page: Page, url: str) -> None:
        self.page = page
        self.url = url.rstrip("/")
        self.faults: list[str] = []
        page.on("pageerror", lambda fault: self.faults.append(str(fault)))
        page.on("console", lambda line: self._hear(line.text))

    def _hear(self, line: str) -> None:
        if "Content Security Policy" in line:
            self.faults.append(line)

    # --- Opening ----------------------------------------------------------------------

    def open(self, fragment: str = "") -> None:
        """Open the page and wait until its script has started."""
        self.page.goto(f"{self.url}/round/{fragment}")
        self.ready()

    def reload(self) -> None:
        """Load the page anew."""
        self.page.reload()
        self.ready()

    def ready(self) -> None:
        """Wait until the script has started."""
        self.page.wait_for_selector("html[data-ready=yes]")

    def pair(self, link: str) -> None:
        """Open a pairing link of the office and wait for the round."""
        self.open("#" + link.partition("#")[2])
        self.page.locator(".visit").first.wait_for()
        self.page.locator("#not-ready").wait_for(state="detached", timeout=15_000)

    def take_judge(self) -> None:
        """Say that the phone is to be the other judge's, whose code was given."""
        self.page.click("#pair-other")
        expect(self.page.locator("#list-title")).to_be_visible()

    def read_declared(self) -> None:
        """Say that what the classes declare has been read."""
        self.page.click("#have-read")
        expect(self.page.locator("section#declared")).to_have_count(0)

    def wear(self, look: Look) -> None:
        """Look as a judge may choose, on a screen of this size, without losing the place."""
        self.page.set_viewport_size({"width": look.width, "height": look.height})
        was_dark = self.page.evaluate(
            """chosen => {
                for (const [name, value] of Object.entries(chosen))
                    localStorage.setItem(`round-${name}`, value);
                return matchMedia('(prefers-color-scheme: dark)').matches;
            }""",
            {"theme": look.theme, "hand": look.hand},
        )
        # The page looks at the choice again when the phone itself turns dark or light.
        self.page.emulate_media(color_scheme="light" if was_dark else "dark")
        self.expect_worn(look)

    def expect_worn(self, look: Look) -> None:
        """Wait until the page looks as chosen."""
        worn = f"html[data-theme={look.theme}][data-hand={look.hand}]"
        expect(self.page.locator(worn)).to_have_count(1)

    def type_code(self, code: str) -> None:
        """Type a code by hand and send it."""
        self.page.fill("#pair-code", code)
        self.page.click("button[type=submit]")

    # --- Wagons and rows ---------------------------------------------------------------

    def entries(self) -> list[int]:
        """The entries of the list, as shown; the practice wagon is not one of them."""
        found = self.page.locator("ol.visits .visit")
        expect(found.first).to_be_visible()
        return [int(one.get_attribute("data-entry") or 0) for one in found.all()]

    def open_card(self, entry: int) -> None:
        """Open a wagon's card from the list."""
        self.page.click(f".visit[data-entry='{entry}']")
        expect(self.page.locator("header.wagon")).to_be_visible()

    def open_number(self, number: int) -> dict[str, Any]:
        """Open the card of the wagon with this number; return its visit as the server has it."""
        visits = self.server_round()["visits"]
        visit = next(one for one in visits if one["entry"]["number"] == number)
        self.open_card(visit["entry"]["id"])
        return dict(visit)

    def to_list(self) -> None:
        """Go back to all wagons."""
        self.page.click("a.back")
        expect(self.page.locator("#list-title")).to_be_visible()

    def to_phone(self) -> None:
        """Open the page about this phone."""
        self.page.click("a.tophone")
        expect(self.page.locator("#phone-title")).to_be_visible()

    def rows(self) -> list[str]:
        """The codes of the open card's rows, in order."""
        found = self.page.locator(".crit").all()
        return [one.get_attribute("data-row") or "" for one in found]

    def empty_rows(self) -> list[str]:
        """The codes of the rows without a mark."""
        found = self.page.locator(".crit:has(.given.none)").all()
        return [one.get_attribute("data-row") or "" for one in found]

    def row(self, code: str) -> Locator:
        """One row of the open card."""
        return self.page.locator(f".crit[data-row='{code}']")

    def unfold(self, code: str) -> Locator:
        """Open a row if it is closed."""
        line = self.row(code).locator(".line")
        if line.get_attribute("aria-expanded") == "false":
            line.click()
        return self.row(code)

    def tap_mark(self, code: str, value: str) -> None:
        """Tap a number, without waiting for anything."""
        self.unfold(code).locator(f".key[data-key='{value}']").click()

    def mark(self, code: str, value: str) -> None:
        """Give a mark and wait for its tick."""
        self.tap_mark(code, value)
        self.expect_mark(code, value)

    def state(self, code: str, state: str) -> None:
        """Say that a row does not apply or could not be inspected, and wait for the tick."""
        self.unfold(code).locator(f"[data-state='{state}']").click()
        self.expect_mark(code, state)

    def expect_mark(self, code: str, shown: str) -> None:
        """Wait until the row shows this as saved."""
        # `wait_for` looks more often than `expect`, and this is waited for at every touch.
        self.row(code).locator(f".given[data-mark='{shown}']").wait_for()

    def mark_all(self, value: str = "6") -> list[str]:
        """Give every empty row of the open card the same mark."""
        for code in self.empty_rows():
            self.mark(code, value)
        return self.rows()

    def fill_card(self, value: str = "1") -> None:
        """Give every empty row the same mark, by the page's own keys but not finger by finger."""
        self.page.evaluate(FILL_CARD, value)
        expect(self.page.locator(".crit .given.none")).to_have_count(0)

    def sign(self) -> None:
        """Look through the whole card and hand it in."""
        self.page.click("#hand-in")
        expect(self.page.locator("#review [data-review]")).to_have_count(len(self.rows()))
        self.page.click("#sign")

    # --- Who keys, and photos ------------------------------------------------------------

    def keyed_by(self, name: str) -> None:
        """Say on the page about this phone who keys for the judge."""
        self.page.click("#keys-other")
        self.page.fill("#keys-name", name)
        self.page.click("#keys-save")
        # Said once it is kept; the button is down from the first tap.
        kept = f"{' '.join(name.split())} keys from now on."
        expect(self.page.locator("#said")).to_have_text(kept)

    def photograph(self, row: str = "", picture: FilePayload | None = None) -> None:
        """Take a photo of an unfolded row, or of the whole wagon; a small one unless given."""
        where = self.row(row) if row else self.page.locator("header.wagon")
        with self.page.expect_file_chooser() as camera:
            where.locator("[data-camera]").click()
        camera.value.set_files(picture or camera_picture(600, 400))

    def photos(self, row: str = "") -> Locator:
        """The thumbnails of a row, or of the whole wagon."""
        return self.page.locator(f"[data-photos='{row}'] .thumb")

    # --- The rig at the wagon ------------------------------------------------------------

    def choose_rig(self, **facts: str) -> None:
        """Open the sheet about the rig and choose these facts in it."""
        self.page.click("#rig-different")
        for fact, value in facts.items():
            self.page.locator(f".value:has([name='rig-{fact}'][value='{value}'])").click()

    def correct_rig(self, **facts: str) -> None:
        """Say that the rig is another, and wait until the card has formed anew."""
        self.choose_rig(**facts)
        self.page.click("#rig-save")
        expect(self.page.locator("dialog")).to_have_count(0)
        expect(self.page.locator("#formed")).to_be_visible()

    def aside(self) -> dict[str, str]:
        """The marks shown as kept aside, by row."""
        lines = self.page.locator("#aside [data-aside]").all()
        return {
            one.get_attribute("data-aside") or "": one.locator("strong").inner_text()
            for one in lines
        }

    def expect_same_as_office(self, entry: int) -> None:
        """Wait until the page about this phone proves that the office has the same card."""
        self.to_phone()
        line = self.page.locator(f".compared [data-entry='{entry}']")
        expect(line).to_contain_text("all sent and the same")
        self.page.click("a.back")

    # --- Sent and kept -----------------------------------------------------------------

    def waiting(self) -> int:
        """How many touches the page says are only on this phone."""
        return int(self.page.locator("#sync").get_attribute("data-waiting") or -1)

    def expect_waiting(self, count: int) -> None:
        """Wait until the page says so many touches are only on this phone."""
        self.page.locator(f"#sync[data-waiting='{count}']").wait_for(timeout=20_000)

    def sync(self) -> None:
        """Come back to the page, which makes it try to send."""
        self.page.evaluate("dispatchEvent(new Event('online'))")

    def kept(self) -> list[dict[str, Any]]:
        """What the judge touched and the phone keeps of the pairing in use, by its count."""
        return [one for one in self.kept_events() if one["body"]["kind"] != "open"]

    def kept_events(self) -> list[dict[str, Any]]:
        """Every event the phone keeps, also that cards were opened."""
        found = self.page.evaluate(
            f"""async () => {{
                const {{ outbox }} = await import('{SCRIPT}');
                return outbox.eventsOf(await outbox.fact('active'));
            }}"""
        )
        return list(found)

    def expect_all_taken(self) -> None:
        """Wait until the server has taken every event, also that cards were opened."""
        for _ in range(100):
            if all(one["status"] == "applied" for one in self.kept_events()):
                return
            self.page.wait_for_timeout(100)
        raise AssertionError(self.kept_events())

    def device(self) -> dict[str, Any]:
        """The pairing in use, with its token."""
        found = self.page.evaluate(
            f"""async () => {{
                const {{ outbox }} = await import('{SCRIPT}');
                const active = await outbox.fact('active');
                return (await outbox.devices()).find(one => one.id === active);
            }}"""
        )
        return dict(found)

    def server_round(self) -> dict[str, Any]:
        """The round as the server gives it to this phone, asked for beside the page."""
        token = self.device()["token"]
        reply = httpx.get(
            f"{self.url}/api/v1/device/round", headers={"Authorization": f"Bearer {token}"}
        )
        reply.raise_for_status()
        return dict(reply.json())

    def server_visit(self, entry: int) -> dict[str, Any]:
        """One of the judge's visits as the server has it."""
        visits = self.server_round()["visits"]
        return dict(next(visit for visit in visits if visit["entry"]["id"] == entry))

    def server_marks(self, entry: int) -> dict[str, Any]:
        """The marks of one of the judge's cards as the server has them."""
        return dict(self.server_visit(entry)["card"]["marks"])

"""A small show for whoever tries the API by its description: judged, and another one running.

`python manage.py shell` calls `build` inside the service's own database; what it prints is what a
visitor needs: sessions, a phone's token, and ids that are there.
"""

from __future__ import annotations

import json
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from tests.volume import volume
from tests.warm_show import WarmShow

VISITORS = ("office", "phone", "owner", "stranger", "nobody")
CSRF = "a" * 32
# How many requests each operation gets from each visitor; more finds more.
EXAMPLES = volume(1, 10)


def build() -> None:
    """Make both shows and print sessions, token and ids as JSON."""
    from showrun.shows.actions.plan_show import give_role
    from showrun.shows.rules.access import Role
    from tests import judged_show as stage
    from tests.everybody import Cast

    cast = Cast()
    running = stage.build_show(slug="running", n_entries=4, n_judges=4)
    stage.open_window(running, publish=False)
    office, owner = cast.people["office"], cast.people["owner"]
    assert office and owner
    give_role(show=running, person=office, role=Role.OFFICE)
    entry = stage.entry_of(running)
    entry.exhibitor = owner
    entry.save()
    _, token = stage.pair(stage.judge_of(running))
    here = {
        "slug": running.slug,
        "entry_id": entry.pk,
        "judge_id": stage.judge_of(running).pk,
        "class_id": stage.class_of(running).pk,
    }
    told = {
        "sessions": {name: cast.sessions[name] for name in ("office", "owner", "stranger")},
        "token": token,
        "values": [cast.values, {**cast.values, **here}],
    }
    print(json.dumps(told, default=str))


@dataclass
class Stage:
    """The shows, served."""

    live: WarmShow
    sessions: dict[str, str]
    token: str
    values: list[dict[str, Any]]

    @classmethod
    def serve(cls, data: Path) -> Stage:
        """Build the shows and start a web server on them."""
        live = WarmShow(data, more={"API_REQUESTS_PER_MINUTE": "1000000"})
        live.migrate()
        source = "from tests.api_stage import build; build()"
        told = live.manage("shell", "--no-imports", "-c", source).splitlines()[-1]
        live.start_web()
        return cls(live, **json.loads(told))

    def shown_by(self, visitor: str) -> dict[str, Any]:
        """What the visitor shows with each request: headers and cookies."""
        if visitor == "phone":
            return {"headers": {"Authorization": f"Bearer {self.token}"}}
        cookies = {"csrftoken": CSRF}
        if visitor in self.sessions:
            cookies["sessionid"] = self.sessions[visitor]
        return {"headers": {"X-CSRFToken": CSRF}, "cookies": cookies}

"""What the wall sheet says: every visit as announced, as a chart and in lists."""

from __future__ import annotations

from typing import Any

from judging.queries.timetables import chart_words, show_timetable
from judging.rules.windows.chart import draw
from judging.rules.windows.chart_shapes import Frame
from reports.models import Paper
from showrun.errors import Conflict, NotYet
from showrun.language import gettext as _

# The first page in points: what letter and A4, laid across, both leave beside head and key.
CHART_WIDTH_PT, CHART_HEIGHT_PT = 700, 440
MOST_ROW_PT, MOST_TEXT_PT = 24.0, 9.0
NAME_SHARE = 0.21
KEY_LINE_PT, JUDGES_A_LINE = 12.0, 4


def wall_content(paper: Paper) -> dict[str, Any]:
    """Return what the paper's wall sheet says.

    Raises `Conflict` when the times were announced anew: a sheet says what its announcement said.
    """
    table = show_timetable(paper.show)
    if table is None or table.as_of is None:
        raise NotYet(
            _("The times are not published any more; there is nothing to put on the wall.")
        )
    if table.as_of.number != paper.version:
        raise Conflict(
            _(
                "The times were announced anew since: announcement {number} counts, and this "
                "sheet is of announcement {version}. Make the sheet of the newest."
            ).format(number=table.as_of.number, version=paper.version)
        )
    visits, wagons, judges, busy = chart_words(table)
    return {
        "paper": paper,
        "show": paper.show,
        "table": table,
        "as_of": table.as_of,
        "chart": draw(
            visits,
            wagons,
            judges,
            zone=paper.show.tz,
            busy=busy,
            frame=_frame(len(wagons), len(judges)),
        ),
    }


def _frame(n_wagons: int, n_judges: int) -> Frame:
    """Measure the chart so that all wagons stand on the first page, and the key below them."""
    height = CHART_HEIGHT_PT - KEY_LINE_PT * ((n_judges - 1) // JUDGES_A_LINE)
    row = min(MOST_ROW_PT, height / (n_wagons + 2))
    return Frame(
        width=CHART_WIDTH_PT,
        row_height=round(row, 2),
        name_width=CHART_WIDTH_PT * NAME_SHARE,
        text_size=round(min(MOST_TEXT_PT, row * 0.68), 2),
    )

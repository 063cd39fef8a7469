"""What a judge's own report says: their marks beside the panel's, and nothing of anybody else."""

from __future__ import annotations

from typing import Any

from judging.queries.panel_report import own_report, results_are_out
from reports.models import Paper
from showrun.errors import NotYet
from showrun.language import gettext as _


def report_content(paper: Paper) -> dict[str, Any]:
    """Return what the report says; before every result of the judge is out there is none."""
    if paper.judge is None:
        raise ValueError(f"{paper} is of no judge")
    if not results_are_out(paper.judge):
        raise NotYet(
            _("Not every result that counts a card of {judge} is released.").format(
                judge=paper.judge
            )
        )
    report, sections = own_report(paper.judge)
    return {
        "paper": paper,
        "show": paper.show,
        "judge": paper.judge,
        "report": report,
        "agreement": sections,
    }

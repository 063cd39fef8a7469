"""What each kind of paper says, and what it is called: a new kind has its lines here."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from reports.models import Paper
from reports.queries.camp_papers import plates_content, signs_content
from reports.queries.card_papers import card_content
from reports.queries.class_papers import calls_content, certificate_content, purse_content
from reports.queries.judge_papers import report_content
from reports.queries.receipts import receipt_content
from reports.queries.record import record_content
from reports.queries.sheets import award_content, feedback_content
from reports.queries.study import study_content
from reports.queries.wall import wall_content

CONTENTS: dict[Paper.Kind, Callable[[Paper], dict[str, Any]]] = {
    Paper.Kind.AWARD: award_content,
    Paper.Kind.FEEDBACK: feedback_content,
    Paper.Kind.WALL: wall_content,
    Paper.Kind.CARD: card_content,
    Paper.Kind.CERTIFICATE: certificate_content,
    Paper.Kind.RECORD: record_content,
    Paper.Kind.CALLS: calls_content,
    Paper.Kind.PURSE: purse_content,
    Paper.Kind.SIGNS: signs_content,
    Paper.Kind.PLATES: plates_content,
    Paper.Kind.STUDY: study_content,
    Paper.Kind.REPORT: report_content,
    Paper.Kind.RECEIPT: receipt_content,
}


def content_of(paper: Paper) -> dict[str, Any]:
    """Return what the paper says, from its rows alone."""
    kind = Paper.Kind(paper.kind)
    if kind not in CONTENTS:
        raise ValueError(f"nothing is known to print on a {paper.get_kind_display()}")
    return CONTENTS[kind](paper)


def title_of(paper: Paper) -> str:
    """Return the title of the file: what it is, of whom, of which show."""
    kind = paper.get_kind_display()
    said = f"{kind[0].upper()}{kind[1:]}"
    if paper.is_wall:
        return f"{said}: {paper.show.name}, announcement {paper.version}"
    if paper.is_card:
        return f"{said}: {paper.judge}, {paper.show.name}, printing {paper.version}"
    if paper.show_class is not None:
        of = paper.show_class.name if paper.entry is None else paper.entry.wagon_name
        within = paper.show.name if paper.entry is None else paper.show_class.name
        return f"{said}: {of}, {within}"
    of_whom = paper.judge or (paper.entry and paper.entry.wagon_name)
    return f"{said}: {of_whom}, {paper.show.name}" if of_whom else f"{said}: {paper.show.name}"

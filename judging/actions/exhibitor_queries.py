"""An exhibitor asks about a released result, and the office answers on record."""

from __future__ import annotations

from datetime import datetime

from django.db import transaction

from entries.models import Entry
from judging.models import ClassCard, ExhibitorQuery, Placing, Result
from judging.queries.queries_of import corrected_since, queries_put
from judging.rules.results.query_window import LONGEST_TEXT, against_query, query_window
from showrun.errors import Conflict, InvalidInput, NotFound, NotYet
from showrun.language import gettext as _
from showrun.shows.actions.record import record_change
from showrun.shows.models import Person

_State = ExhibitorQuery.State
VERDICTS = {"stands": _State.STANDS, "corrected": _State.CORRECTED}


@transaction.atomic
def ask_query(
    *, result: Result, entry: Entry, section: str, text: str, by: Person, at: datetime
) -> ExhibitorQuery:
    """Put a query about the entry's place, within the time the class declared."""
    result = Result.objects.select_for_update(of=("self",)).get(pk=result.pk)
    placing = Placing.objects.filter(result=result, entry=entry).first()
    if placing is None:
        raise NotFound(_("This entry has no place in that result."))
    if result.released_at is None:
        raise NotFound(_("There is no such result."))
    if result.replaced_at is not None:
        raise Conflict(_("A newer version of this result is released; read that one first."))
    declared = ClassCard.objects.get(show_class=result.show_class_id)
    window = query_window(result.released_at, declared.query_minutes)
    put_before = queries_put(entry, result.show_class_id)
    against = against_query(window, put_before=put_before, at=at)
    if against:
        raise NotYet(against, code="no-queries")
    if section and section not in placing.by_section:
        raise InvalidInput(
            _("This class has no such section."),
            fields={"section": _("Choose a section, or none.")},
        )
    query = ExhibitorQuery.objects.create(
        result=result,
        entry=entry,
        section=section,
        text=_text(text, "text", _("What do you ask?")),
        asked_by=by,
        asked_at=at,
    )
    _record(query, by, at, "put a query", after={"section": section, "text": query.text})
    return query


@transaction.atomic
def answer_query(
    *, query: ExhibitorQuery, verdict: str, answer: str, by: Person, at: datetime
) -> ExhibitorQuery:
    """Say that the result stands, or that it is corrected; once, and for good."""
    query = _open(query)
    if verdict not in VERDICTS:
        raise InvalidInput(
            _("Say whether the result stands."),
            fields={"verdict": _("Does the result stand, or is it corrected?")},
        )
    words = _text(answer, "answer", _("What do you answer? The exhibitor reads it."))
    if VERDICTS[verdict] == _State.CORRECTED and not corrected_since(query):
        raise NotYet(
            _(
                "The result is not corrected yet: correct the mark, compute a new version with "
                "its reason, sign and release it, then answer."
            ),
            code="not-corrected",
        )
    query.state, query.answer = VERDICTS[verdict], words
    query.answered_by, query.answered_at = by, at
    query.save(update_fields=["state", "answer", "answered_by", "answered_at"])
    _record(query, by, at, "answered a query", after={"state": query.state, "answer": words})
    return query


@transaction.atomic
def withdraw_query(*, query: ExhibitorQuery, by: Person, at: datetime) -> ExhibitorQuery:
    """Take an open query back; it stays on record."""
    query = _open(query)
    query.state = _State.WITHDRAWN
    query.save(update_fields=["state"])
    _record(query, by, at, "withdrew a query", after={"state": query.state})
    return query


def _open(query: ExhibitorQuery) -> ExhibitorQuery:
    query = ExhibitorQuery.objects.select_for_update(of=("self",)).get(pk=query.pk)
    if query.state != _State.OPEN:
        raise Conflict(_("This query is closed: {state}.").format(state=query.get_state_display()))
    return query


def _text(given: str, field: str, asked: str) -> str:
    text = given.strip()
    if not text:
        raise InvalidInput(_("Nothing is written."), fields={field: asked})
    if len(text) > LONGEST_TEXT:
        raise InvalidInput(
            _("That is too long."),
            fields={field: _("At most {longest} letters.").format(longest=LONGEST_TEXT)},
        )
    return text


def _record(
    query: ExhibitorQuery, by: Person, at: datetime, verb: str, *, after: dict[str, str]
) -> None:
    record_change(
        show=query.result.show_class.show,
        actor=by,
        at=at,
        verb=verb,
        subject=f"wagon {query.entry}, {query.result}",
        after={"query": query.pk, **after},
    )

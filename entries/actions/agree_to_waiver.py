"""Keep who agreed to which version of the show's waiver."""

from __future__ import annotations

from datetime import datetime

from entries.models import Entry, EntryTerms
from entries.queries.lacking import waiver_of
from entries.rules.particulars import fault_of_agreement


def agreement_fault(
    terms: EntryTerms, *, waiver_version: int | None, waiver_agreed_by: str
) -> dict[str, str]:
    """Say why the name typed is no agreement; nothing typed, or nothing asked, is no fault."""
    asked = waiver_of(terms)
    if not waiver_agreed_by.strip() or not asked:
        return {}
    fault = fault_of_agreement(
        agreed_by=waiver_agreed_by, version_read=waiver_version, version=asked
    )
    return {"waiver_agreed_by": fault} if fault else {}


def agree_to_waiver(entry: Entry, terms: EntryTerms, *, agreed_by: str, at: datetime) -> bool:
    """Note the agreement on the entry, unsaved; False where nothing was agreed to.

    Call it when `agreement_fault` found none. The version agreed to before gives way, and stands
    in the record.
    """
    name, asked = agreed_by.strip(), waiver_of(terms)
    if not name or not asked:
        return False
    entry.waiver_version, entry.waiver_agreed_at, entry.waiver_agreed_by = asked, at, name
    return True

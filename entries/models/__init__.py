"""The nouns of entering: outfit, entry, crew, animals, camp, check-in, money, messages."""

from entries.models.animal import Animal
from entries.models.camp import CampSpot, CampZone
from entries.models.check_in import CheckIn
from entries.models.crew import CrewChange, CrewMember
from entries.models.entry import Entry, EntryClass
from entries.models.entry_import import EntryImport
from entries.models.ledger import OnlinePayment, Posting, PostingLine
from entries.models.message import OfficeMessage
from entries.models.outfit import EntryDraft, Outfit
from entries.models.terms import EntryTerms

__all__ = [
    "Animal",
    "CampSpot",
    "CampZone",
    "CheckIn",
    "CrewChange",
    "CrewMember",
    "Entry",
    "EntryClass",
    "EntryDraft",
    "EntryImport",
    "EntryTerms",
    "OfficeMessage",
    "OnlinePayment",
    "Outfit",
    "Posting",
    "PostingLine",
]

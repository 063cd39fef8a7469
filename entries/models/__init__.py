"""The nouns of entering: entry, crew member, camp spot."""

from entries.models.camp import CampSpot
from entries.models.entry import CrewMember, Entry, EntryClass

__all__ = ["CampSpot", "CrewMember", "Entry", "EntryClass"]

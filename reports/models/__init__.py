"""The nouns of reports: a paper, and the papers a bundle holds."""

from reports.models.bundle import BundlePart
from reports.models.paper import Paper

__all__ = ["BundlePart", "Paper"]

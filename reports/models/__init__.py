"""The noun of reports: a paper."""

from reports.models.paper import Paper

__all__ = ["Paper"]

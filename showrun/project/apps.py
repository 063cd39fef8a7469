"""The project itself as an app: it owns the shared templates, styles and commands."""

from django.apps import AppConfig


class ProjectConfig(AppConfig):
    """Shared pages, styles and commands."""

    name = "showrun.project"
    label = "project"

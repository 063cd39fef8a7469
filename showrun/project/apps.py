"""The project itself as an app: it owns the shared templates, styles and commands."""

from django.apps import AppConfig
from django.utils import translation

from showrun.language import install_translator


class ProjectConfig(AppConfig):
    """Shared pages, styles and commands."""

    name = "showrun.project"
    label = "project"

    def ready(self) -> None:
        """Let rules speak the language of whoever reads."""
        install_translator(translation)

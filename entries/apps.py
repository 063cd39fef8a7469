"""App registration."""

from django.apps import AppConfig


class EntriesConfig(AppConfig):
    """Registers `entries`."""

    name = "entries"
    label = "entries"
    default_auto_field = "django.db.models.BigAutoField"

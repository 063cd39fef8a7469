"""App registration."""

from django.apps import AppConfig


class ShowsConfig(AppConfig):
    """Registers `showrun.shows`."""

    name = "showrun.shows"
    label = "shows"
    default_auto_field = "django.db.models.BigAutoField"

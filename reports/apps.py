"""App registration."""

from django.apps import AppConfig


class ReportsConfig(AppConfig):
    """Registers `reports`."""

    name = "reports"
    label = "reports"
    default_auto_field = "django.db.models.BigAutoField"

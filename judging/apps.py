"""App registration."""

from django.apps import AppConfig


class JudgingConfig(AppConfig):
    """Registers `judging`."""

    name = "judging"
    label = "judging"
    default_auto_field = "django.db.models.BigAutoField"

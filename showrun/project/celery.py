"""The Celery application every worker and every door shares."""

from __future__ import annotations

import logging.config
import os
from typing import Any

import celery
import celery.signals

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "showrun.project.settings")

# Who draws papers and looks for plans steps back for whoever serves pages on the same cores.
WORKER_NICENESS = 10

app = celery.Celery("showrun")
app.config_from_object("django.conf:settings", namespace="CELERY")
app.autodiscover_tasks()


@celery.signals.setup_logging.connect
def use_the_projects_logging(**_: Any) -> None:
    """Keep Celery from replacing the structured log configuration."""
    from django.conf import settings  # noqa: PLC0415  settings name this application

    logging.config.dictConfig(settings.LOGGING)


@celery.signals.worker_init.connect
def load_the_layout_engine(**_: Any) -> None:
    """Load it once, before the worker's processes are made: each would take half a second."""
    import reports.pdf  # noqa: F401, PLC0415  needs the settings


@celery.signals.worker_process_init.connect
def give_way(**_: Any) -> None:
    """Let web processes go first: a release and its papers come in the same minute."""
    os.nice(WORKER_NICENESS)

"""What workers do for entering: take back offers that ran out, mail those that were made."""

from __future__ import annotations

from celery import shared_task
from django.utils.timezone import now

from entries.actions.mail_offers import mail_offers
from entries.actions.promote import lapse_due


@shared_task(name="entries.tasks.sweep_offers")
def sweep_offers() -> int:
    """Let what ran out lapse, then mail what is offered; asked twice, the second finds nothing."""
    lapsed = lapse_due(at=now())
    mail_offers(at=now())
    return len(lapsed)

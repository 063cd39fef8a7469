"""The roof of the house: settings, addresses and the worker's application."""

from showrun.project.celery import app as celery_app

__all__ = ["celery_app"]

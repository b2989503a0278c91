"""The Fanlight project: people, academies and plumbing; the lowest of the three floors."""

from academy.celery import app as celery_app

__all__ = ["celery_app"]

"""The one door to background work."""

from functools import partial

from django.db import transaction
from django.utils.module_loading import import_string


def enqueue(task_path: str, /, **kwargs: int | str) -> None:
    """Queue ``app.tasks.name`` once the current transaction has committed; arguments are keys, never rows."""
    task = import_string(task_path)
    transaction.on_commit(partial(task.delay, **kwargs))

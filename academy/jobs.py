"""The one door to background work."""

from django.db import transaction
from django.utils.module_loading import import_string


def enqueue(task_path: str, /, **kwargs: int | str) -> None:
    """Queue ``app.tasks.name`` once the current transaction has committed; arguments are keys, never rows.

    A broker that cannot be reached is logged as an error and fails nobody's page: what was saved stays saved.
    """
    task = import_string(task_path)

    def queue() -> None:
        task.delay(**kwargs)

    transaction.on_commit(queue, robust=True)

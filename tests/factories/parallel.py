"""Work done by several people at the same instant, each on a connection of her own."""

from collections.abc import Callable, Sequence
from concurrent.futures import ThreadPoolExecutor
from threading import Barrier
from typing import TypeVar

from django.db import connection

from academy.errors import DomainError

T = TypeVar("T")


def at_once(*tasks: Callable[[], T]) -> Sequence[T | DomainError]:
    """What each task answers or was refused with, in their order; anything else it raises is raised here."""
    barrier = Barrier(len(tasks), timeout=20)

    def run(task: Callable[[], T]) -> T | DomainError:
        try:
            connection.ensure_connection()
            barrier.wait()
            return task()
        except DomainError as refused:
            return refused
        finally:
            connection.close()

    with ThreadPoolExecutor(len(tasks)) as pool:
        return list(pool.map(run, tasks))

"""Reads rows that stand still only once while a piece of work lasts: in one transaction, or one telling."""

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from functools import wraps
from typing import ParamSpec, TypeVar

Given = ParamSpec("Given")
Found = TypeVar("Found")
_kept: ContextVar[dict[object, object] | None] = ContextVar("read_once", default=None)


@contextmanager
def reading_once() -> Iterator[None]:
    """Selectors marked ``read_once`` ask the database once inside; one inside another shares with it.

    Only for work that changes nothing of what they read, or that says so by ``read_anew``.
    """
    if _kept.get() is not None:
        yield
        return
    token = _kept.set({})
    try:
        yield
    finally:
        _kept.reset(token)


def read_anew() -> None:
    """Forget what was read: something of it has been written."""
    kept = _kept.get()
    if kept is not None:
        kept.clear()


def read_once(selector: Callable[Given, Found]) -> Callable[Given, Found]:
    """For a selector of rows that stand still, with arguments that tell them apart; its answer is shared."""

    @wraps(selector)
    def read(*args: Given.args, **kwargs: Given.kwargs) -> Found:
        kept = _kept.get()
        if kept is None:
            return selector(*args, **kwargs)
        key = (selector, args, tuple(sorted(kwargs.items())))
        if key not in kept:
            kept[key] = selector(*args, **kwargs)
        found: Found = kept[key]  # type: ignore[assignment]  # put there under this very selector
        return found

    return read

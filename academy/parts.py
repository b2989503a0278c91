"""The one door to rendered parts of pages that are kept, each under everything it tells."""

import logging
from collections.abc import Callable, Mapping
from functools import lru_cache
from hashlib import sha256
from typing import Any

from django.conf import settings
from django.core.cache import caches
from django.db.models import Model
from django.template.loader import render_to_string
from django.utils.safestring import SafeString, mark_safe
from django.utils.timezone import get_current_timezone_name
from redis.exceptions import RedisError

logger = logging.getLogger(__name__)

Facts = tuple[object, ...]


def kept_part(template: str, facts: Facts, gather: Callable[[], Mapping[str, Any]]) -> SafeString:
    """The template rendered, or what it gave before for equal ``facts``; ``gather`` is called if need be.

    ``facts`` are all that the part tells, or rows that never change by their key. Release and time zone are
    added here. The request is not at hand while rendering, so nothing else of the reader can enter.
    """
    key = sha256(repr((template, release(), get_current_timezone_name(), facts)).encode()).hexdigest()
    found = _read(key)
    if found is None:
        found = render_to_string(template, dict(gather()))
        _keep(key, found)
    return mark_safe(found)  # noqa: S308  # a rendered template


def facts_of(row: Model) -> Facts:
    """Every column of a row, and of the rows that were selected with it; no query."""
    fields = row._meta.concrete_fields
    own = tuple(row.__dict__[field.attname] for field in fields if field.attname in row.__dict__)
    selected = row._state.fields_cache
    others = [selected.get(field.name) for field in fields if field.is_relation]
    return (*own, *(facts_of(other) for other in others if other is not None))


@lru_cache(maxsize=1)
def release() -> str:
    """A digest of the program as it was when this process first asked: another program, other parts."""
    digest = sha256()
    for folder in settings.PROGRAM_DIRS:
        for path in sorted((*folder.rglob("*.py"), *folder.rglob("*.html"))):
            digest.update(path.read_bytes())
    return digest.hexdigest()


def _read(key: str) -> str | None:
    try:
        found: str | None = caches["parts"].get(key)
    except RedisError:
        logger.warning("Kept parts of pages cannot be read; they are made anew.")
        return None
    return found


def _keep(key: str, text: str) -> None:
    try:
        caches["parts"].set(key, text)
    except RedisError:
        logger.warning("Parts of pages cannot be kept.")

"""Writes past every service and every guard of a model, to see whether the database itself says no."""

from collections.abc import Callable
from typing import Any, TypeVar

from django.db import IntegrityError, models, transaction

World = TypeVar("World")


def change(row: models.Model | None, **changes: Any) -> None:
    """Write past every service and every guard of the model."""
    assert row is not None
    assert models.QuerySet(type(row)).filter(pk=row.pk).update(**changes) == 1


def again(row: models.Model | None, **changes: Any) -> None:
    """Add the same row once more, with ``changes``, past every service and every guard of the model."""
    assert row is not None
    fields = [field for field in row._meta.concrete_fields if not field.primary_key]
    values = {field.attname: getattr(row, field.attname) for field in fields}
    models.QuerySet[Any](type(row)).bulk_create([type(row)(**{**values, **changes})])


def first(model: type[models.Model], **which: Any) -> models.Model | None:
    return model._default_manager.filter(**which).first()


def bitten(attempt: Callable[[World], None], world: World) -> str:
    """What the database said no with; an empty text when it let the row in."""
    try:
        with transaction.atomic():
            attempt(world)
            transaction.set_rollback(True)
    except IntegrityError as refused:
        cause = refused.__cause__
        return getattr(getattr(cause, "diag", None), "constraint_name", None) or str(refused)
    return ""

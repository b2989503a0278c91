"""Rows of a version: they change while it is a draft and never after it is published."""

from collections.abc import Iterable
from typing import Any, ClassVar, TypeVar

from django.db import models

from academy.errors import DomainError

Row = TypeVar("Row", bound=models.Model, covariant=True)


class VersionIsPublished(DomainError):
    """One subclass for each thing that is published; it says what that thing is called."""

    noun: ClassVar[str]

    def __init__(self) -> None:
        super().__init__(
            f"{self.noun}_is_published",
            f"This {self.noun} version is published, so nothing in it changes. "
            "Copy it to a draft and change that.",
        )


class DraftOnlyQuerySet(models.QuerySet[Row]):
    """Refuses what would reach a published version; each write costs one more query."""

    def update(self, **kwargs: Any) -> int:
        """Rows never move to another version."""
        parent, _ = _parent_of(self.model)
        if parent and not kwargs.keys().isdisjoint({parent, f"{parent}_id"}):
            raise self.model.refusal  # type: ignore[attr-defined]
        _refuse(self)
        return super().update(**kwargs)

    def bulk_update(self, objs: Iterable[Any], *args: Any, **kwargs: Any) -> int:
        """``update`` would refuse too, but only after opening a transaction that it then breaks."""
        rows = list(objs)
        refuse_published(self.model, rows)
        return super().bulk_update(rows, *args, **kwargs)

    def delete(self) -> tuple[int, dict[str, int]]:
        _refuse(self)
        return super().delete()

    def bulk_create(self, objs: Iterable[Any], *args: Any, **kwargs: Any) -> list[Any]:
        rows = list(objs)
        refuse_published(self.model, rows)
        return super().bulk_create(rows, *args, **kwargs)


class DraftOnly(models.Model):
    """``published_path`` leads from a row to the instant its version was published; then ``refusal``."""

    published_path: ClassVar[str]
    refusal: ClassVar[type[VersionIsPublished]]

    objects = DraftOnlyQuerySet.as_manager()

    class Meta:
        abstract = True

    def save(self, *args: Any, **kwargs: Any) -> None:
        refuse_published(type(self), [self])
        super().save(*args, **kwargs)

    def delete(self, *args: Any, **kwargs: Any) -> tuple[int, dict[str, int]]:
        refuse_published(type(self), [self])
        return super().delete(*args, **kwargs)


def refuse_published(model: type[models.Model], rows: Iterable[models.Model]) -> None:
    """Raises the model's refusal when a row lies, or would come to lie, under a published version."""
    rows = list(rows)
    _refuse(model._default_manager.filter(pk__in=[row.pk for row in rows if row.pk]))
    parent, above = _parent_of(model)
    if above:
        _refuse(above._default_manager.filter(pk__in={getattr(row, f"{parent}_id") for row in rows}))


def _refuse(rows: models.QuerySet[Any]) -> None:
    """Looks at the rows as they stand in the database, not as somebody has changed them in memory."""
    path = rows.model.published_path
    if rows.filter(**{f"{path}__isnull": False}).exists():
        raise rows.model.refusal


def _parent_of(model: type[models.Model]) -> tuple[str, type[models.Model] | None]:
    field, _, further = model.published_path.partition("__")  # type: ignore[attr-defined]
    return (field, model._meta.get_field(field).related_model) if further else ("", None)

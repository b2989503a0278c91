"""Rows that are written once. A correction is a new row."""

from typing import Any, NoReturn, TypeVar

from django.db import models

from academy.errors import DomainError

Row = TypeVar("Row", bound=models.Model, covariant=True)


class RecordIsFinal(DomainError):
    def __init__(self, model: type[models.Model]) -> None:
        name = model._meta.verbose_name
        super().__init__(
            "record_is_final", f"This {name} is final. Add a correction with its reason instead."
        )


class AppendOnlyQuerySet(models.QuerySet[Row]):
    def update(self, **kwargs: Any) -> NoReturn:
        raise RecordIsFinal(self.model)

    def delete(self) -> NoReturn:
        raise RecordIsFinal(self.model)

    def bulk_update(self, *args: Any, **kwargs: Any) -> NoReturn:
        raise RecordIsFinal(self.model)


class AppendOnly(models.Model):
    """Refuses every change and removal after the first save."""

    objects = AppendOnlyQuerySet.as_manager()

    class Meta:
        abstract = True

    def save(self, *args: Any, **kwargs: Any) -> None:
        if not self._state.adding:
            raise RecordIsFinal(type(self))
        super().save(*args, **kwargs)

    def delete(self, *args: Any, **kwargs: Any) -> NoReturn:
        raise RecordIsFinal(type(self))

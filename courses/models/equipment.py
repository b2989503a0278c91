from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from django.db.models.functions import Lower

from academy.models import Academy


class Head(models.Model):
    """A mannequin head with its lash strip."""

    academy = models.ForeignKey(Academy, on_delete=models.PROTECT, related_name="heads")
    name = models.CharField(max_length=60)
    layers = models.PositiveSmallIntegerField(
        default=2, validators=[MinValueValidator(1), MaxValueValidator(3)]
    )
    strip_fitted_on = models.DateField()
    note = models.CharField(max_length=240, blank=True)
    retired_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["name"]
        constraints = [
            models.UniqueConstraint(
                Lower("name"),
                "academy",
                name="head_name_once_per_academy",
                violation_error_message="There is already a head of this name. Choose another.",
            ),
            models.CheckConstraint(condition=models.Q(layers__range=(1, 3)), name="head_one_to_three_layers"),
        ]

    def __str__(self) -> str:
        return self.name

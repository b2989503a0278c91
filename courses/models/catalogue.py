"""Reference data that every academy shares: skills, drills and faults, known by their codes for years."""

from typing import TypeVar

from django.db import models

Row = TypeVar("Row", bound="Coded", covariant=True)


class CodedManager(models.Manager[Row]):
    def get_by_natural_key(self, code: str) -> Row:
        return self.get(code=code)


class Coded(models.Model):
    code = models.SlugField(max_length=30, unique=True)
    name = models.CharField(max_length=80)
    order = models.PositiveSmallIntegerField(default=0)

    objects = CodedManager()

    class Meta:
        abstract = True
        ordering = ["order", "code"]

    def __str__(self) -> str:
        return self.name

    def natural_key(self) -> tuple[str]:
        return (self.code,)


class Skill(Coded):
    """What is judged, stable for years. A gate skill protects the eye: no average hides it."""

    meaning = models.CharField(max_length=240)
    is_gate = models.BooleanField(default=False)
    is_speed = models.BooleanField(default=False)  # fades more slowly than accuracy


class Drill(Coded):
    """An exercise that isolates one fault and ends on a count, never on minutes."""

    steps = models.TextField()
    count_target = models.PositiveSmallIntegerField()
    counted = models.CharField(max_length=40)  # what the count counts: "dry fans", "isolations"


class Fault(Coded):
    """Something countable found on one fan, or one bare lash."""

    skill = models.ForeignKey(Skill, on_delete=models.PROTECT, related_name="faults")
    drill = models.ForeignKey(Drill, on_delete=models.PROTECT, related_name="faults")
    meaning = models.CharField(max_length=240)
    found_by = models.CharField(max_length=120)
    fan_shapes = models.JSONField(default=list)  # shapes on which this is a fault; empty: on all
    at_bench = models.BooleanField(default=True)  # ticked fan by fan; others are judged on the whole set
    is_bare_lash = models.BooleanField(default=False)  # there is no fan at the position

    def natural_key(self) -> tuple[str]:
        return (self.code,)

    natural_key.dependencies = ["courses.skill", "courses.drill"]  # type: ignore[attr-defined]

    def counts_on(self, fan_shape: str) -> bool:
        return not self.fan_shapes or fan_shape in self.fan_shapes

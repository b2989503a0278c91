from django.db.models import Prefetch, QuerySet

from academy.errors import NotHere
from academy.read_once import read_once
from courses.models import Drill, Fault, Skill


def skills() -> QuerySet[Skill]:
    """Every skill with its faults and their drills; two queries."""
    return Skill.objects.prefetch_related(Prefetch("faults", faults()))


def faults() -> QuerySet[Fault]:
    return Fault.objects.select_related("skill", "drill")


@read_once
def every_skill() -> tuple[Skill, ...]:
    """The same without faults; one query."""
    return tuple(Skill.objects.all())


@read_once
def every_fault() -> tuple[Fault, ...]:
    return tuple(faults())


@read_once
def every_drill() -> tuple[Drill, ...]:
    return tuple(drills())


def bench_faults(*fan_shapes: str) -> list[Fault]:
    """Faults ticked fan by fan that count on one of these fan shapes, or on any; one query."""
    found = [fault for fault in every_fault() if fault.at_bench]
    return [fault for fault in found if not fan_shapes or any(map(fault.counts_on, fan_shapes))]


def drills() -> QuerySet[Drill]:
    return Drill.objects.all()


def catalogue_words() -> tuple[object, ...]:
    """Every word and number of the catalogue, for whoever keeps what was made of it; three queries."""
    return tuple(tuple(kind.objects.order_by("pk").values_list()) for kind in (Skill, Drill, Fault))


def fault_by_code(code: str) -> Fault:
    found = faults().filter(code=code).first()
    if found is None:
        raise NotHere("fault")
    return found

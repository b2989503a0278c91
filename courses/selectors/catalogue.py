from django.db.models import Prefetch, QuerySet

from academy.errors import NotHere
from courses.models import Drill, Fault, Skill


def skills() -> QuerySet[Skill]:
    """Every skill with its faults and their drills; two queries."""
    return Skill.objects.prefetch_related(Prefetch("faults", faults()))


def faults() -> QuerySet[Fault]:
    return Fault.objects.select_related("skill", "drill")


def bench_faults(fan_shape: str) -> list[Fault]:
    """Faults ticked fan by fan on a brief of this fan shape; one query."""
    return [fault for fault in faults().filter(at_bench=True) if fault.counts_on(fan_shape)]


def drills() -> QuerySet[Drill]:
    return Drill.objects.all()


def fault_by_code(code: str) -> Fault:
    found = faults().filter(code=code).first()
    if found is None:
        raise NotHere("fault")
    return found

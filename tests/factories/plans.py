"""Plans of the rota as they stand once computed, without the computing."""

from datetime import date

from academy.models import Membership
from courses.models import RotaProposal
from tests.factories.assessments import STARTED


def make_plan(educator: Membership, **changes: object) -> RotaProposal:
    """Ready to look at, without a line."""
    given = {
        "academy": educator.academy,
        "state": RotaProposal.State.READY,
        "first_on": date(2026, 3, 2),
        "last_on": date(2026, 3, 15),
        "time_limit_s": 10,
        "seed": 1,
        "progress": 100,
        "gap": 0.0,
        "made_by": educator,
        "made_at": STARTED,
        "ready_at": STARTED,
        **changes,
    }
    return RotaProposal.objects.create(**given)

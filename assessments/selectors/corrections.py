from academy.models import Academy
from assessments.scoring.corrections import Correction, NoCorrection


def correction_of(academy: Academy) -> Correction:
    """What fails are corrected by for strict and lenient educators and for hard briefs; no query.

    Nothing as long as the academy has no fitted figures; pages say so.
    """
    return NoCorrection()

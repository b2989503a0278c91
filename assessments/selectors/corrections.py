from academy.models import Academy
from assessments.models import ParameterVersion
from assessments.scoring.corrections import Correction, NoCorrection, SeverityCorrection
from assessments.selectors.parameters import newest_parameters, parameters_in


def correction_of(academy: Academy) -> Correction:
    """What fails are corrected by for strict and lenient educators and for hard briefs; one query.

    Nothing as long as the academy has no fitted figures; pages say so.
    """
    return correction_in(newest_parameters(academy))


def correction_in(version: ParameterVersion | None) -> Correction:
    if version is None:
        return NoCorrection()
    parameters = parameters_in(version)
    return SeverityCorrection(
        severity={int(code): facet.value for code, facet in parameters.educators.items()},
        difficulty={int(code): facet.value for code, facet in parameters.briefs.items()},
        thresholds=parameters.thresholds,
    )

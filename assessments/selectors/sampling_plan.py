"""What an inspection will look at, known before the set is begun."""

from collections.abc import Iterator

from assessments.models import RubricVersion
from assessments.scoring.sampling import EYES, SamplePlan
from courses.models import BriefVersion


def sample_plan(brief: BriefVersion, rubric: RubricVersion) -> SamplePlan:
    """The rubric's counts, as far as the brief places that many fans; no query."""
    cells = len(brief.zones) * len(brief.layers)
    fans_per_cell = max(1, brief.fans_per_eye // cells)
    per_zone = min(rubric.per_zone, fans_per_cell * len(brief.layers))
    return SamplePlan(
        zones=tuple(brief.zones),
        layers=tuple(brief.layers),
        per_zone=per_zone,
        fans_per_cell=fans_per_cell,
        gaps_per_zone=min(rubric.gaps_per_zone, per_zone),
        directions_per_zone=min(rubric.directions_per_zone, per_zone),
        pairs_per_zone=min(rubric.pairs_per_zone, per_zone),
    )


def sampling_words(plan: SamplePlan) -> tuple[str, ...]:
    """The plan in sentences for the student."""
    return tuple(_sentences(plan))


def _sentences(plan: SamplePlan) -> Iterator[str]:
    zones, fans = len(plan.zones), plan.per_zone * len(plan.zones) * len(EYES)
    turns = ", the layers taking turns" if len(plan.layers) > 1 else ""
    yield f"{_fans(plan.per_zone)} in each of the {zones} zones of each eye, {fans} in all{turns}."
    yield "The system draws which ones once the set is finished: neither you nor the educator chooses them."
    measured = [
        f"{what} of {count}"
        for what, count in (
            ("the gap to the lid", plan.gaps_per_zone),
            ("the direction", plan.directions_per_zone),
        )
        if count
    ]
    if measured:
        yield f"Measured in each zone: {' and '.join(measured)}."
    if plan.pairs_per_zone:
        pairs = "1 place" if plan.pairs_per_zone == 1 else f"{plan.pairs_per_zone} places"
        yield (
            f"At {pairs} of each zone the same fan is drawn on both eyes and its length measured, "
            "to compare left and right."
        )


def _fans(count: int) -> str:
    return "1 fan" if count == 1 else f"{count} fans"

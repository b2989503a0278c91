"""The second look of a chosen set: another educator meets the same fans, seeing nearly the same."""

from collections.abc import Sequence
from datetime import datetime
from random import Random
from typing import Any
from uuid import UUID

from assessments.management.demo import hand
from assessments.models import Position, PracticeSet, SecondMark
from assessments.scoring.entry import MarkEntry
from assessments.scoring.proposals import JUDGED
from assessments.selectors.marking import inspection_of
from assessments.selectors.second_marks import second_marking
from assessments.services.second_marks import apply_second_events, sign_second_mark
from assessments.services.sets import BenchEvent
from courses.models import Fault

SEEN_AGAIN = 0.9  # of the faults that the first educator saw
SEEN_ANEW = 0.015  # of the fans that were clean to the first, on average
GAP_STEPS = (-0.15, -0.05, 0.0, 0.0, 0.05, 0.15)
DEGREE_STEPS = (-5, -2, 0, 0, 2, 5)


class SecondLookRefused(Exception):
    """The product refused a finding of the story."""


def look_again(second: SecondMark, strictness: float, at: datetime, rng: Random) -> None:
    """Inspect every position and close; the stricter, the more is seen."""
    faults, lash_map = _faults_seen(second.practice_set), second.practice_set.brief.lash_map
    events = [
        BenchEvent(
            _uuid(rng),
            "position",
            at,
            _look(first, first.planned_cell(lash_map).fan.shape, faults, strictness, rng),
        )
        for first in inspection_of(second.practice_set).positions.all()
    ]
    events.append(BenchEvent(_uuid(rng), "inspect", at))
    results = apply_second_events(actor=second.assigned_to, uid=second.uid, events=events, now=at)
    for result in results:
        if result.problem is not None:
            raise SecondLookRefused(result.problem.message)


def sign_again(second: SecondMark, form: hand.Form, strictness: float, at: datetime, rng: Random) -> None:
    """Judged levels through this educator's eyes; the rest as proposed. Hygiene was not seen."""
    left, right = hand.eye_counts(form, second.practice_set.brief.fans_per_eye, rng)
    counted = MarkEntry(left_count=left, right_count=right)
    found = second_marking(second, counted)
    levels = {
        spec.code: _capped(
            hand.judged_level(form, spec.skill, strictness, rng), found.proposals[spec.code].cap
        )
        for spec in found.specs
        if found.proposals[spec.code].status == JUDGED
        and not (spec.code == "layers" and len(second.practice_set.brief.layers) == 1)
    }
    entry = MarkEntry(left_count=left, right_count=right, levels=levels)
    sign_second_mark(actor=second.assigned_to, uid=second.uid, entry=entry, event_uid=_uuid(rng), now=at)


def _capped(level: int, cap: int | None) -> int:
    return level if cap is None else min(level, cap)


def _faults_seen(practice_set: PracticeSet) -> list[Fault]:
    """What the first look found somewhere on this set, lengths apart: those follow from the measure."""
    positions = inspection_of(practice_set).positions.all()
    seen = {fault.code: fault for position in positions for fault in position.faults.all()}
    return [seen[code] for code in sorted(seen) if code != hand.WRONG_LENGTH]


def _look(
    first: Position, shape: str, faults: Sequence[Fault], strictness: float, rng: Random
) -> dict[str, Any]:
    if first.finding == Position.Finding.BARE:
        return {"index": first.index, "finding": "bare", "faults": []}
    seen = [fault.code for fault in first.faults.all() if rng.random() < SEEN_AGAIN + strictness / 10]
    possible = [fault.code for fault in faults if fault.counts_on(shape)]
    if not seen and possible and rng.random() < SEEN_ANEW * (1 + 2 * strictness):
        seen = [rng.choice(possible)]
    gap_mm, length_mm, degrees = first.gap_mm, first.found_length_mm, first.direction_deg
    return {
        "index": first.index,
        "finding": "faulty" if seen else "clean",
        "faults": seen,
        "gap_mm": None if gap_mm is None else round(max(0.0, float(gap_mm) + rng.choice(GAP_STEPS)), 2),
        "direction_deg": None if degrees is None else max(0, degrees + rng.choice(DEGREE_STEPS)),
        "found_length_mm": None if length_mm is None else float(length_mm),
    }


def _uuid(rng: Random) -> UUID:
    return UUID(int=rng.getrandbits(128), version=4)

"""What a hand of a given skill leaves on the head: time, gaps, directions and faults. No database, no clock.

Levels run 0 to 4. The curves meet the starter rubric's bands: a skill at level 3 makes, on average, work that
the rubric reads as 3.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from math import floor
from random import Random
from typing import Any

from assessments.management.demo.calendar import PlannedSet

Curve = tuple[float, float, float, float, float]

# Expected faults among 40 fans at level 0, 1, 2, 3, 4.
FAULTS_OF_40: Mapping[str, Curve] = {
    "isolation": (9.0, 4.4, 2.0, 0.9, 0.15),
    "closure": (19.0, 12.0, 6.3, 2.8, 0.6),
    "wrap": (15.0, 9.0, 4.8, 2.3, 0.5),
    "direction": (6.0, 4.0, 2.0, 0.8, 0.1),
    "mapping": (18.0, 11.0, 6.0, 2.6, 0.5),
    "adhesive": (15.0, 9.0, 4.8, 2.3, 0.5),
    "attachment": (14.0, 8.5, 4.6, 2.2, 0.4),
    "placement": (2.0, 0.5, 0.06, 0.01, 0.0),
    "product": (3.0, 1.0, 0.2, 0.03, 0.0),
}
BARE_SHARE: Curve = (0.65, 0.48, 0.28, 0.12, 0.02)
GAP_OFF_MM: Curve = (0.60, 0.40, 0.24, 0.17, 0.11)  # spread about the middle of the window
DEGREES_OFF: Curve = (30.0, 22.0, 13.0, 7.2, 3.6)
LENGTH_OFF_MM: Curve = (0.9, 0.7, 0.45, 0.25, 0.12)  # spread about the planned length, short of a fault
EYES_APART: Curve = (0.30, 0.22, 0.13, 0.065, 0.02)
TIME_SHARE: Curve = (2.15, 1.72, 1.36, 1.12, 0.93)
LINES_MISSED: Curve = (4.0, 2.8, 1.8, 0.8, 0.0)  # expected, critical ones far seldomer
CRITICAL_SHARE = 0.04
MIDDLE_GAP_MM = 0.75
PLAINLY_FAR_MM = 1.25  # from here on an inspector ticks the gap without measuring it
TOUCHES, TOO_FAR, WRONG_DIRECTION, WRONG_COUNT, LAYERS_BONDED = "TCH", "GAP", "DIR", "CNT", "LYR"
WRONG_LENGTH = "MAP"
SET_TO_SET = 0.28  # spread of one day's form about the latent level


@dataclass(frozen=True, slots=True)
class Drawn:
    """A drawn position as far as the hand cares."""

    index: int
    wants_gap: bool
    wants_direction: bool


@dataclass(frozen=True, slots=True)
class Form:
    """How a student works on one day: latent level by skill, with the day's luck in it."""

    levels: Mapping[str, float]

    def at(self, curve: Curve, skill: str) -> float:
        return value_at(curve, self.levels[skill])


def form_of_the_day(plan: PlannedSet, skills: Iterable[str], rng: Random) -> Form:
    return Form({skill: plan.latent(skill) + rng.gauss(0, SET_TO_SET) for skill in skills})


def value_at(curve: Curve, level: float) -> float:
    """The curve between its five points, straight; held at its ends."""
    within = min(max(level, 0.0), 4.0)
    lower = min(floor(within), 3)
    return curve[lower] + (within - lower) * (curve[lower + 1] - curve[lower])


def worked_s(form: Form, target_s: int, rng: Random) -> float:
    return target_s * form.at(TIME_SHARE, "time") * rng.uniform(0.96, 1.04)


def faults_by_skill(
    codes: Mapping[str, Sequence[str]], *, filaments: int, layers: int
) -> dict[str, list[str]]:
    """The faults this hand can make on a brief, by skill; ``codes`` are all that count on its fan shape.

    A gap too wide is read from the measure; a single lash has no fan to misshape; one layer bonds to
    no other.
    """
    cannot = {TOO_FAR} | ({LAYERS_BONDED} if layers == 1 else set())
    found = {skill: [code for code in codes[skill] if code not in cannot] for skill in codes}
    if filaments == 1:
        found["closure"] = [code for code in found["closure"] if code == WRONG_COUNT]
    return found


def finding(form: Form, position: Drawn, faults: Mapping[str, Sequence[str]], rng: Random) -> dict[str, Any]:
    """What an inspector sees at one position; ``faults`` are the codes that count here, by skill."""
    if rng.random() < form.at(BARE_SHARE, "coverage"):
        return {"index": position.index, "finding": "bare", "faults": []}
    seen = [
        rng.choice(codes)
        for skill, codes in faults.items()
        if codes and rng.random() < form.at(FAULTS_OF_40[skill], skill) / 40
    ]
    gap_mm = _gap_mm(form, seen, rng)
    if gap_mm >= PLAINLY_FAR_MM:
        seen.append(TOO_FAR)
    return {
        "index": position.index,
        "finding": "faulty" if seen else "clean",
        "faults": seen,
        "gap_mm": gap_mm if position.wants_gap else None,
        "direction_deg": _direction_deg(form, seen, rng) if position.wants_direction else None,
    }


def found_length_mm(form: Form, planned_mm: int, seen: Sequence[str], rng: Random) -> float:
    """To half a millimetre; off by 1 mm or more only where the inspector saw the wrong length."""
    if WRONG_LENGTH in seen:
        return planned_mm + rng.choice((-2, -1, -1, 1, 1, 2))
    off = round(2 * rng.gauss(0, form.at(LENGTH_OFF_MM, "symmetry"))) / 2
    return planned_mm + min(max(off, -0.5), 0.5)


def missed_lines(form: Form, minor: Sequence[str], critical: Sequence[str], rng: Random) -> tuple[str, ...]:
    expected = form.at(LINES_MISSED, "hygiene")
    missed = [code for code in minor if rng.random() < expected / len(minor)]
    serious = [code for code in critical if rng.random() < CRITICAL_SHARE * expected / len(critical)]
    return tuple(missed + serious)


def eye_counts(form: Form, fans_per_eye: int, rng: Random) -> tuple[int, int]:
    """Fans placed on the left and right eye."""
    placed = fans_per_eye * (1 - form.at(BARE_SHARE, "coverage"))
    apart = abs(rng.gauss(0, 1)) * form.at(EYES_APART, "symmetry")
    counts = [round(placed), round(placed * max(1 - apart, 0.4))]
    rng.shuffle(counts)
    return counts[0], counts[1]


def judged_level(form: Form, skill: str, strictness: float, rng: Random) -> int:
    """A judged level: the latent one seen through this educator's eyes."""
    return min(max(round(form.levels[skill] - strictness + rng.gauss(0, 0.3)), 0), 4)


def _gap_mm(form: Form, seen: Sequence[str], rng: Random) -> float:
    """A twentieth of a millimetre is as fine as a scale reads."""
    if TOUCHES in seen:
        return 0.0
    return max(0.1, round(20 * rng.gauss(MIDDLE_GAP_MM, form.at(GAP_OFF_MM, "placement"))) / 20)


def _direction_deg(form: Form, seen: Sequence[str], rng: Random) -> int:
    if WRONG_DIRECTION in seen:
        return rng.randrange(25, 50)
    return min(round(abs(rng.gauss(0, 1)) * form.at(DEGREES_OFF, "direction") * 1.25), 44)

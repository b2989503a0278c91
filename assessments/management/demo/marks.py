"""What an educator of the demo enters when marking a set: chosen as she would, within the rules."""

from collections.abc import Mapping
from dataclasses import replace
from random import Random
from typing import Any

from assessments.management.demo import hand
from assessments.models import PracticeSet
from assessments.scoring.entry import MarkEntry
from assessments.scoring.proposals import JUDGED, PROPOSED, Proposal
from assessments.selectors.marking import Marking, drill_choices, hygiene_lines, inspection_of, marking

OVERRIDE_SHARE = 0.3  # of sets on which an educator departs from one proposed level


def choose_marks(
    practice_set: PracticeSet,
    form: hand.Form,
    strictness: float,
    words: Mapping[str, Any],
    rng: Random,
) -> MarkEntry:
    """Counts and lines first; then judged levels, at most one override; a note; the first drill."""
    counted = _counted(practice_set, form, rng)
    found = marking(practice_set, inspection_of(practice_set), counted)
    judged = _judged(practice_set, found, form, strictness, rng)
    overridden, reasons = _override(found.proposals, strictness, words, rng)
    drill = drill_choices(found.rates)[0].drill
    return replace(
        counted,
        levels={**judged, **overridden},
        reasons=reasons,
        note=_note({**found.levels, **judged, **overridden}, words, rng),
        drill=drill.code,
    )


def corrected(entry: MarkEntry, signed: Mapping[str, int], reason: str) -> MarkEntry:
    """The same entry with the lid gap one level higher."""
    return replace(
        entry,
        levels={**entry.levels, "placement": min(signed["placement"] + 1, 4)},
        reasons={**entry.reasons, "placement": reason},
    )


def _counted(practice_set: PracticeSet, form: hand.Form, rng: Random) -> MarkEntry:
    lines = hygiene_lines(practice_set.rubric)
    minor = [line.code for line in lines if not line.is_critical]
    critical = [line.code for line in lines if line.is_critical]
    left, right = hand.eye_counts(form, practice_set.brief.fans_per_eye, rng)
    return MarkEntry(
        lines_missed=hand.missed_lines(form, minor, critical, rng), left_count=left, right_count=right
    )


def _judged(
    practice_set: PracticeSet, found: Marking, form: hand.Form, strictness: float, rng: Random
) -> dict[str, int]:
    """Nobody judges layers on a brief of one layer."""
    levels = {}
    for spec in found.specs:
        proposal = found.proposals[spec.code]
        if proposal.status != JUDGED or (spec.code == "layers" and len(practice_set.brief.layers) == 1):
            continue
        level = hand.judged_level(form, spec.skill, strictness, rng)
        levels[spec.code] = level if proposal.cap is None else min(level, proposal.cap)
    return levels


def _override(
    proposals: Mapping[str, Proposal], strictness: float, words: Mapping[str, Any], rng: Random
) -> tuple[dict[str, int], dict[str, str]]:
    reasons: Mapping[str, str] = words["stricter"] if strictness > 0 else words["kinder"]
    if not strictness or rng.random() > OVERRIDE_SHARE:
        return {}, {}
    code = rng.choice(sorted(reasons))
    proposal = proposals[code]
    if proposal.status != PROPOSED or proposal.level is None:
        return {}, {}
    level = proposal.level + (-1 if strictness > 0 else 1)
    if not 1 <= level <= 3:
        return {}, {}
    return {code: level}, {code: reasons[code]}


def _note(levels: Mapping[str, int], words: Mapping[str, Any], rng: Random) -> str:
    """One of the best things seen, then what to do about the weakest; criteria carry skill codes."""
    best = [code for code in levels if levels[code] == max(levels.values())]
    weakest = [code for code in levels if levels[code] == min(levels.values())]
    return f"{words['praise'][rng.choice(best)]} {words['advice'][weakest[0]]}"

"""What changes between two versions of a programme, in words for whoever moves a student."""

from collections.abc import Iterator
from dataclasses import dataclass

from courses.programme.content import ProgrammeContent
from courses.programme.sheet import Names, all_lines, unit_words

UNIT, NEW_UNIT, DROPPED_UNIT = "Unit", "New unit", "Unit that is dropped"


@dataclass(frozen=True, slots=True)
class Difference:
    """``before`` is empty for what is new, ``after`` for what is dropped."""

    subject: str
    before: str
    after: str


def differences(old: ProgrammeContent, new: ProgrammeContent, names: Names) -> tuple[Difference, ...]:
    """Hours and rules first, then units, whose order is no matter; nothing when both ask for the same."""
    return (*_in_lines(old, new, names), *_in_units(old, new))


def _in_lines(old: ProgrammeContent, new: ProgrammeContent, names: Names) -> Iterator[Difference]:
    before = {line.key: line.words for line in all_lines(old, names)}
    for line in all_lines(new, names):
        if line.words != before[line.key]:
            yield Difference(line.label, before[line.key], line.words)


def _in_units(old: ProgrammeContent, new: ProgrammeContent) -> Iterator[Difference]:
    before = {unit.code: unit_words(unit) for unit in old.units}
    after = {unit.code: unit_words(unit) for unit in new.units}
    for code, words in after.items():
        if code not in before:
            yield Difference(NEW_UNIT, "", words)
        elif words != before[code]:
            yield Difference(UNIT, before[code], words)
    for code, words in before.items():
        if code not in after:
            yield Difference(DROPPED_UNIT, words, "")

"""Declarations and reviews over a whole history, each held to the version of the rule it was made under."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from assessments.scoring.competence import COMPETENT, NOT_YET, Decision, decide
from assessments.scoring.competence_rules import SetResult
from assessments.scoring.lapse import REVIEW, watched
from assessments.scoring.programme_rules import ProgrammeRule

DECLARED = "declared"
COLLECTING = "collecting"


@dataclass(frozen=True, slots=True)
class Version:
    """One version of a rule with the student's sets, oldest first, as it reads them."""

    programme: ProgrammeRule
    history: Sequence[SetResult]


@dataclass(frozen=True, slots=True)
class Step:
    """`kind`: declared or review; `place`: the set it fell on, from 1; `version`: of the rule.

    `is_open`: marks up to that set were signed after it was recorded, so it has to be tried again.
    `decision`: what a declaration that is not recorded yet rests on.
    """

    kind: str
    place: int
    version: int
    is_open: bool = False
    decision: Decision | None = None


@dataclass(frozen=True, slots=True)
class Standing:
    """Where a skill stands after a history.

    `status`: collecting, competent, not_yet or review. `kept`: how many of the recorded steps still count;
    `steps`: those and the ones that follow. `decision`: of the rule `version`, on the sets after `since`.
    `watch`: the running tally of the watch after each set since the declaration.
    """

    status: str
    kept: int
    steps: tuple[Step, ...]
    version: int
    since: int
    decision: Decision
    watch: tuple[float, ...]

    @property
    def added(self) -> tuple[Step, ...]:
        return self.steps[self.kept :]


def follow_on(versions: Mapping[int, Version], current: int, recorded: Sequence[Step]) -> Standing:
    """Go on from what is recorded: under its own version while a declaration holds, else under `current`.

    A recorded step counts whatever the rules and the severities have become since. Only corrected marks can
    take the ground from under it; then it goes, and all after it. With one version this is `lapse.follow`.
    """
    story = _Story(versions, current)
    for step in recorded:
        if step.is_open and not story.bears(step):
            break
        story.steps.append(step)
    kept = len(story.steps)
    while following := story.next_step():
        story.steps.append(following)
    version, decision = story.decision()
    return Standing(
        status=story.status(decision),
        kept=kept,
        steps=tuple(story.steps),
        version=version,
        since=story.since,
        decision=decision,
        watch=story.watch(),
    )


class _Story:
    """The steps so far."""

    def __init__(self, versions: Mapping[int, Version], current: int) -> None:
        self.versions, self.current = versions, current
        self.steps: list[Step] = []

    @property
    def held(self) -> Step | None:
        """The declaration that holds."""
        return self.steps[-1] if self.steps and self.steps[-1].kind == DECLARED else None

    @property
    def since(self) -> int:
        """Sets up to the last review are not read again."""
        return max((step.place for step in self.steps if step.kind == REVIEW), default=0)

    def bears(self, step: Step) -> bool:
        if step.kind == DECLARED:
            return self._decide(step.version, step.place).status == COMPETENT
        return self.held is not None and self._watched(self.held, step.place)[1] is not None

    def next_step(self) -> Step | None:
        if held := self.held:
            alarm = self._watched(held)[1]
            return None if alarm is None else Step(REVIEW, held.place + alarm, held.version)
        found = self._decide(self.current)
        if found.declared_at is None:
            return None
        return Step(DECLARED, self.since + found.declared_at, self.current, decision=found)

    def decision(self) -> tuple[int, Decision]:
        version, until = (self.held.version, self.held.place) if self.held else (self.current, None)
        return version, self._decide(version, until)

    def status(self, decision: Decision) -> str:
        if self.held:
            return COMPETENT
        if self.steps:
            return REVIEW
        return NOT_YET if decision.status == NOT_YET else COLLECTING

    def watch(self) -> tuple[float, ...]:
        return self._watched(self.held)[0] if self.held else ()

    def _decide(self, version: int, until: int | None = None) -> Decision:
        found = self.versions[version]
        return decide(found.programme.rule, found.history[self.since : until])

    def _watched(self, held: Step, until: int | None = None) -> tuple[tuple[float, ...], int | None]:
        found = self.versions[held.version]
        if found.programme.watch is None:
            return (), None
        return watched(found.programme.watch, found.history[held.place : until])

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from itertools import groupby

from academy.models import Academy, Membership
from assessments.models import CompetenceDecision, CompetenceRule, Grade, Mark, PracticeSet, SecondMark
from assessments.scoring.characteristics import Attained, Risks, risks
from assessments.scoring.competence import COMPETENT
from assessments.scoring.competence_rules import FanSequential, SetResult
from assessments.scoring.corrections import Correction, Judged
from assessments.scoring.declarations import Standing, Step, Version, follow_on
from assessments.scoring.lapse import REVIEW, WatchRisks, watch_risks
from assessments.scoring.mastery import Mastery, MasterySet, check_mastery
from assessments.scoring.programme_rules import ProgrammeRule, parse_programme
from assessments.scoring.wording import percent
from assessments.selectors.competence_rules import SkillRules, mastery_conditions, skill_rules
from assessments.selectors.corrections import correction_of
from assessments.selectors.grades import marks_that_count
from courses.models import Fault, Skill
from courses.selectors.catalogue import every_fault

COUNTED = "counted"
SHOWN_SETS = 40


@dataclass(frozen=True, slots=True)
class GradedSet:
    """One graded set with the marks that count; ``taught``: skills its set before ended with a drill for."""

    practice_set: PracticeSet
    grade: Grade
    marks: tuple[Mark, ...]
    taught: frozenset[str]


@dataclass(frozen=True, slots=True)
class SetOutcome:
    """What a rule read from one set: ``failed`` is None where the skill has no gate mark."""

    number: int
    failed: bool | None
    faults: int
    inspected: int

    @property
    def kind(self) -> str:
        return "left_out" if self.failed is None else "failed" if self.failed else "passed"

    @property
    def word(self) -> str:
        return self.kind.replace("_", " ")


@dataclass(frozen=True, slots=True)
class SkillCompetence:
    """One gate skill of one student; ``rules``: every version, told apart by ``standing.version``.

    ``recorded``: decisions that hold as recorded; ``dropped``: the first one that no longer does.
    """

    rules: SkillRules
    programme: ProgrammeRule
    standing: Standing
    outcomes: tuple[SetOutcome, ...]
    sets: tuple[GradedSet, ...]
    recorded: tuple[CompetenceDecision, ...]
    dropped: CompetenceDecision | None

    @property
    def skill(self) -> Skill:
        return self.rules.skill

    @property
    def rule(self) -> CompetenceRule:
        """The version that the decision stands under."""
        return self.rules.versions[self.standing.version]

    @property
    def status(self) -> str:
        return self.standing.status

    @property
    def words(self) -> str:
        """A declaration is told in the words of its day."""
        steps, decision = self.standing.steps, self.standing.decision
        if self.status == COMPETENT and len(steps) == self.standing.kept:
            return self.recorded[-1].words
        if self.status == REVIEW:
            return f"{self.told(steps[-1])} {decision.words}"
        return decision.words

    def told(self, step: Step) -> str:
        """A step that is not recorded yet, in words."""
        if step.decision:
            return step.decision.words
        return f"Work slipped at set {self.set_at(step).number}, so the rule starts again."

    @property
    def shown(self) -> tuple[SetOutcome, ...]:
        """The newest sets, as many as fit a phone."""
        return self.outcomes[-SHOWN_SETS:]

    @property
    def sets_left(self) -> int | None:
        """Clean sets to a declaration at the least, where the words do not tell."""
        decision = self.standing.decision
        told = self.status == COMPETENT or decision.sets >= (self.stated.earliest or 0)
        return None if told else decision.sets_left

    @property
    def attained(self) -> Attained:
        """The risks over the sets read so far, with their educators and briefs."""
        return self.standing.decision.attained

    @property
    def attained_words(self) -> str:
        return percent(self.attained.false_declared)

    @property
    def watch_share(self) -> float | None:
        """How far the watch has come towards a review, 0..1; None before the first set that it read."""
        watch, sums = self.programme.watch, self.standing.watch
        return sums[-1] / watch.threshold if watch and sums else None

    @property
    def counts_fans(self) -> bool:
        return isinstance(self.programme.rule, FanSequential)

    @property
    def stated(self) -> Risks:
        return risks(self.programme.rule)

    @property
    def watching(self) -> WatchRisks | None:
        return watch_risks(self.programme.watch) if self.programme.watch else None

    def set_at(self, step: Step) -> PracticeSet:
        return self.sets[step.place - 1].practice_set


@dataclass(frozen=True, slots=True)
class Competence:
    """Gate skills in the catalogue's order, and the mastery conditions beside them."""

    skills: tuple[SkillCompetence, ...]
    mastery: Mastery
    is_corrected: bool

    @property
    def declared(self) -> int:
        return sum(each.status == COMPETENT for each in self.skills)

    @property
    def is_complete(self) -> bool:
        """Every gate skill declared and every mastery condition met."""
        return self.declared == len(self.skills) and self.mastery.met


def competence_of(
    student: Membership,
    marks: Iterable[Mark] | None = None,
    correction: Correction | None = None,
    faults: Iterable[Fault] = (),
) -> Competence:
    """Where every decision stands now; ten queries for any number of sets, fewer with things given."""
    sets, correction = graded_sets(student, marks, faults), correction or correction_of(student.academy)
    return Competence(
        skills=tuple(skill_competence(student, sets, correction)),
        mastery=check_mastery(
            mastery_sets(student.academy, sets, blind_markers(student)),
            mastery_conditions(student.academy),
            fault="a gate fault",
        ),
        is_corrected=correction.is_known,
    )


def graded_sets(
    student: Membership, marks: Iterable[Mark] | None = None, faults: Iterable[Fault] = ()
) -> tuple[GradedSet, ...]:
    """Oldest first; two queries, one less for each given: ``marks`` that count, all ``faults``."""
    answered = _answered_by_drill(faults or every_fault())
    counting = marks_that_count(student) if marks is None else marks
    found: list[GradedSet] = []
    for _, group in groupby(counting, key=lambda mark: mark.grade_id):
        its_marks = tuple(group)
        grade = its_marks[0].grade
        drill = found[-1].grade.drill_id if found else None
        found.append(GradedSet(grade.practice_set, grade, its_marks, answered.get(drill, frozenset())))
    return tuple(found)


def skill_competence(
    student: Membership,
    sets: Sequence[GradedSet],
    correction: Correction,
    rules: Iterable[SkillRules] | None = None,
) -> list[SkillCompetence]:
    """Three queries, one when the rules are known."""
    recorded = _recorded(student)
    return [
        _skill_competence(each, sets, recorded.get(each.skill.pk, []), correction)
        for each in (skill_rules(student.academy) if rules is None else rules)
    ]


def mastery_sets(
    academy: Academy, sets: Sequence[GradedSet], blind: Mapping[int, frozenset[int]]
) -> tuple[MasterySet, ...]:
    return tuple(_mastery_set(academy, each, blind.get(each.practice_set.pk, frozenset())) for each in sets)


def blind_markers(student: Membership) -> dict[int, frozenset[int]]:
    """Who has marked each of the student's sets without seeing the first result; one query."""
    done = SecondMark.objects.filter(practice_set__student=student, state=SecondMark.State.DONE)
    return {
        practice_set: frozenset({educator})
        for practice_set, educator in done.values_list("practice_set", "assigned_to")
    }


def _skill_competence(
    rules: SkillRules,
    sets: Sequence[GradedSet],
    recorded: Sequence[CompetenceDecision],
    correction: Correction,
) -> SkillCompetence:
    programmes = {number: parse_programme(rule.programme) for number, rule in rules.versions.items()}
    versions = {
        number: Version(programme, [_result(each, rules.skill, programme, correction) for each in sets])
        for number, programme in programmes.items()
    }
    steps = [_step(decision, sets, rules) for decision in recorded]
    standing = follow_on(versions, rules.newest.number, steps)
    return SkillCompetence(
        rules=rules,
        programme=programmes[standing.version],
        standing=standing,
        outcomes=tuple(_outcome(each, rules.skill) for each in sets),
        sets=tuple(sets),
        recorded=tuple(recorded[: standing.kept]),
        dropped=recorded[standing.kept] if standing.kept < len(recorded) else None,
    )


def _step(decision: CompetenceDecision, sets: Sequence[GradedSet], rules: SkillRules) -> Step:
    place = next(n for n, each in enumerate(sets, 1) if each.practice_set.pk == decision.practice_set_id)
    number = next(n for n, rule in rules.versions.items() if rule.pk == decision.rule_id)
    later = any(each.grade.signed_at > decision.at for each in sets[:place])
    return Step(decision.kind, place, number, is_open=later)


def _recorded(student: Membership) -> dict[int, list[CompetenceDecision]]:
    """Decisions that stand, by skill, oldest first: a withdrawal takes what it names and all after it."""
    found: dict[int, list[CompetenceDecision]] = {}
    for decision in CompetenceDecision.objects.filter(student=student).select_related("practice_set", "rule"):
        standing = found.setdefault(decision.skill_id, [])
        if decision.withdraws_id is None:
            standing.append(decision)
        else:
            del standing[[each.pk for each in standing].index(decision.withdraws_id) :]
    return found


def _outcome(each: GradedSet, skill: Skill) -> SetOutcome:
    gates = [mark for mark in each.marks if mark.criterion.is_gate and mark.criterion.skill_id == skill.pk]
    failed = any(mark.level < mark.criterion.gate_min for mark in gates) if gates else None
    faults, inspected = _counts(gates)
    return SetOutcome(each.practice_set.number, failed, faults, inspected)


def _counts(gates: Sequence[Mark]) -> tuple[int, int]:
    """Faults of the counted gate criteria; they look at the same fans, so no more than those."""
    counted = [mark for mark in gates if mark.criterion.kind == COUNTED and mark.inspected]
    inspected = max((mark.inspected or 0 for mark in counted), default=0)
    return min(inspected, sum(mark.faults or 0 for mark in counted)), inspected


def _result(each: GradedSet, skill: Skill, programme: ProgrammeRule, correction: Correction) -> SetResult:
    outcome = _outcome(each, skill)
    rates = (programme.rule.acceptable_rate, programme.rule.inadequate_rate)
    judged = Judged(each.grade.signed_by_id, each.practice_set.brief_id, _cut(each, skill))
    return SetResult(
        failed=outcome.failed,
        faults=outcome.faults,
        inspected=outcome.inspected,
        shift=correction.shift(judged, rates),
        retaught=skill.code in each.taught,
    )


def _cut(each: GradedSet, skill: Skill) -> int:
    cuts = [
        mark.criterion.gate_min
        for mark in each.marks
        if mark.criterion.is_gate and mark.criterion.skill_id == skill.pk
    ]
    return max(cuts, default=0)


def _mastery_set(academy: Academy, each: GradedSet, blind_by: frozenset[int]) -> MasterySet:
    faults, inspected = _counts([mark for mark in each.marks if mark.criterion.is_gate])
    finished: datetime = each.practice_set.finished_at or each.grade.signed_at
    return MasterySet(
        day=academy.date_of(finished),
        gates_passed=each.grade.gates_passed,
        levels={mark.criterion.name: mark.level for mark in each.marks},
        faults=faults,
        inspected=inspected,
        educator=each.grade.signed_by_id,
        blind_by=blind_by,
    )


def _answered_by_drill(faults: Iterable[Fault]) -> dict[int | None, frozenset[str]]:
    """Skill codes by drill: a drill set with the marks is the teaching on record."""
    found: dict[int | None, frozenset[str]] = {}
    for fault in faults:
        found[fault.drill_id] = found.get(fault.drill_id, frozenset()) | {fault.skill.code}
    return found

"""Tells each planned set at the bench, from opening to signature, at the instants when it happened."""

from collections.abc import Generator, Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from decimal import Decimal
from heapq import heappop, heappush
from random import Random
from typing import Any
from uuid import UUID

from academy.models import Membership
from academy.read_once import reading_once
from assessments.management.demo import clockwork, hand
from assessments.management.demo.academy import School
from assessments.management.demo.calendar import PlannedSet
from assessments.management.demo.marks import choose_marks, corrected
from assessments.management.demo.second_looks import look_again, sign_again
from assessments.models import Position, PracticeSet, SecondMark
from assessments.scoring.conditions import Conditions
from assessments.scoring.timing import EventKind
from assessments.selectors.sets import heads_in_use
from assessments.services.marking import correct_marks, sign_marks
from assessments.services.sets import BenchEvent, Setup, apply_events, open_set
from courses.models import Head
from courses.selectors.catalogue import bench_faults, skills
from courses.selectors.heads import heads
from courses.services.heads import fit_new_strip

SETS_A_STRIP = 8
LOT_LASTS_DAYS = 21
ADHESIVE_DAYS = 28
SET_UP = timedelta(minutes=6)
A_LOOK = timedelta(seconds=22)  # at one position
SECOND_LOOK_TAKES, SECOND_MARKS_TAKE = timedelta(minutes=18), timedelta(minutes=6)
STILL_WAITING = timedelta(days=6)
WAIT_FOR_A_HEAD = timedelta(minutes=15)

Steps = Generator[datetime, None, datetime]


class DemoRefused(Exception):
    """The bench refused an event of the story: the story asks for what the product does not allow."""


@dataclass(frozen=True, slots=True)
class Telling:
    """What all sets of one academy share while they are told; ``corrects``: (address, n-th set)."""

    school: School
    words: dict[str, Any]
    skills: tuple[str, ...]
    seed: int
    now: datetime
    corrects: tuple[str, int] = ("", 0)


def telling_of(
    school: School, words: dict[str, Any], *, seed: int, now: datetime, corrects: tuple[str, int] = ("", 0)
) -> Telling:
    return Telling(school, words, tuple(skill.code for skill in skills()), seed, now, corrects)


def tell(telling: Telling, plans: Sequence[PlannedSet]) -> None:
    """Tell the sets side by side, every step in the order of its instant, as it happened.

    The catalogue, the rubrics, briefs and rules stand still meanwhile.
    """
    waiting: list[tuple[datetime, int, Steps]] = []
    for order, plan in enumerate(plans):
        heappush(waiting, (plan.opens_at, order, Sitting(telling, plan).steps()))
    with reading_once():
        while waiting:
            _, order, steps = heappop(waiting)
            if (until := next(steps, None)) is not None:
                heappush(waiting, (until, order, steps))


class Sitting:
    """One set. Each step yields the instant at which it is done, does it, and returns that instant."""

    def __init__(self, telling: Telling, plan: PlannedSet) -> None:
        self.telling = telling
        self.plan = plan
        name = f"{telling.seed}/{plan.email}/{plan.nth}/{plan.until}"
        self.rng = Random(name)  # noqa: S311  # a story, not a secret
        # Apart, because which heads are free depends on the day: the marks of the story must not.
        self.head_rng = Random(f"{name}/head")  # noqa: S311
        self.length_rng = Random(f"{name}/length")  # noqa: S311  # pairs differ from rubric to rubric
        self.educator: Membership = self.rng.choice(telling.school.educators)
        self.form = hand.form_of_the_day(plan, telling.skills, self.rng)
        self.practice_set: PracticeSet

    def steps(self) -> Steps:
        at = yield from self._open()
        at = yield from self._work(at + SET_UP)
        if self.plan.until in {"inspected", "graded"}:
            at = yield from self._inspect(at + timedelta(minutes=self.rng.randrange(4, 15)))
        if self.plan.until == "graded":
            at = yield from self._sign(at + timedelta(minutes=self.rng.randrange(6, 20)))
            at = yield from self._mark_again(at)
        return at

    def _open(self) -> Steps:
        at = self.plan.opens_at
        yield at
        while not (free := self._free_heads()):
            at += WAIT_FOR_A_HEAD
            yield at
        head = self._with_fresh_strip(self.head_rng.choice(free), at)
        school = self.telling.school
        setup = Setup(
            student_id=school.students[self.plan.email].pk,
            brief_id=school.briefs[self.plan.brief].brief_id,
            head_id=head.pk,
            conditions=self._conditions(at),
        )
        self.practice_set = open_set(actor=self.educator, setup=setup, uid=_uuid(self.rng), now=at)
        return at

    def _free_heads(self) -> list[Head]:
        academy, layers = self.educator.academy, self.telling.school.briefs[self.plan.brief].layers
        taken = heads_in_use(academy)
        return [head for head in heads(academy) if head.pk not in taken and head.layers >= len(layers)]

    def _with_fresh_strip(self, head: Head, at: datetime) -> Head:
        if head.sets_on_strip < SETS_A_STRIP:  # type: ignore[attr-defined]  # annotated by the selector
            return head
        fitted_on = self.educator.academy.date_of(at)
        return fit_new_strip(head=head, fitted_on=fitted_on, actor=self.educator, now=at)

    def _conditions(self, at: datetime) -> Conditions:
        lots: list[str] = self.telling.words["lots"]
        today = self.educator.academy.date_of(at)
        age = (self.educator.academy.date_of(self.telling.now) - today).days
        opened_days_ago = LOT_LASTS_DAYS - 1 - age % LOT_LASTS_DAYS
        return Conditions(
            adhesive_lot=lots[-1 - age // LOT_LASTS_DAYS % len(lots)],
            adhesive_opened_on=today - timedelta(days=opened_days_ago),
            adhesive_days=ADHESIVE_DAYS,
            room_c=Decimal(self.rng.randrange(200, 226)) / 10,
            room_rh=self.rng.randrange(43, 62),
        )

    def _work(self, start: datetime) -> Steps:
        moments = self._moments(start)
        yield moments[-1].at
        self._apply(
            [BenchEvent(_uuid(self.rng), moment.kind, moment.at, moment.data) for moment in moments],
            moments[-1].at,
        )
        return moments[-1].at

    def _moments(self, start: datetime) -> list[clockwork.Moment]:
        """All of them, or for today's sets those up to where the set stands now."""
        rng, layers = self.rng, self.practice_set.brief.layers
        worked_s = hand.worked_s(self.form, self.practice_set.target_s, rng)
        breaks = clockwork.pauses(worked_s, self.telling.words["pauses"], rng)
        if self.plan.ends_at is None:
            return clockwork.moments(start, worked_s, layers, breaks, rng)
        if self.plan.until in {"finished", "inspected"}:
            lasted_s = (self.plan.ends_at - start).total_seconds()
            return clockwork.moments(start, lasted_s, layers, (), rng)
        begun = clockwork.moments(start, worked_s, layers, (), rng)[:-1]
        reached = [moment for moment in begun if moment.at < self.plan.ends_at]
        return [*reached, *self._last_moment(self.plan.ends_at)]

    def _last_moment(self, at: datetime) -> Iterable[clockwork.Moment]:
        if self.plan.until == "paused":
            yield clockwork.Moment(EventKind.PAUSE, at, {"reason": self.telling.words["pauses"][0]})
        if self.plan.until == "abandoned":
            yield clockwork.Moment(EventKind.ABANDON, at, {"reason": self.telling.words["abandoned"]})

    def _inspect(self, begins: datetime) -> Steps:
        events, at = [], begins
        faults = {shape: self._faults(shape) for shape in self.practice_set.brief.fan_shapes}
        for position in Position.objects.filter(inspection__practice_set=self.practice_set):
            at += A_LOOK
            events.append(BenchEvent(_uuid(self.rng), "position", at, self._look(position, faults)))
        at += A_LOOK
        yield at
        self._apply([*events, BenchEvent(_uuid(self.rng), EventKind.INSPECT, at)], at)
        return at

    def _faults(self, fan_shape: str) -> dict[str, list[str]]:
        brief = self.practice_set.brief
        codes: dict[str, list[str]] = {skill: [] for skill in hand.FAULTS_OF_40}
        for fault in bench_faults(fan_shape):
            if not fault.is_bare_lash:
                codes[fault.skill.code].append(fault.code)
        return hand.faults_by_skill(codes, filaments=brief.filaments, layers=len(brief.layers))

    def _look(self, position: Position, faults: Mapping[str, dict[str, list[str]]]) -> dict[str, Any]:
        lash_map = self.practice_set.brief.lash_map
        drawn = hand.Drawn(position.index, position.wants_gap, position.wants_direction)
        counting = faults[position.planned_cell(lash_map).fan.shape]
        found = hand.finding(self.form, drawn, counting, self.rng)
        if position.wants_length and found["finding"] != "bare":
            planned_mm, seen = position.planned_mm(lash_map), found["faults"]
            found["found_length_mm"] = hand.found_length_mm(self.form, planned_mm, seen, self.length_rng)
        return found

    def _sign(self, at: datetime) -> Steps:
        yield at
        words = self.telling.words
        strictness = self.telling.school.strictness[self.educator.pk]
        entry = choose_marks(self.practice_set, self.form, strictness, words, self.rng)
        grade = sign_marks(
            actor=self.educator, uid=self.practice_set.uid, entry=entry, event_uid=_uuid(self.rng), now=at
        )
        if (self.plan.email, self.plan.nth) != self.telling.corrects:
            return at
        at += timedelta(hours=20)
        yield at
        signed = dict(grade.marks.values_list("criterion__code", "level"))
        correct_marks(
            actor=self.telling.school.owner,
            uid=self.practice_set.uid,
            entry=corrected(entry, signed, words["corrected"]),
            reason=words["corrected"],
            base_revision=grade.revision,
            now=at,
        )
        return at

    def _mark_again(self, at: datetime) -> Steps:
        """A second mark where chance asks for one; those of the last days still wait."""
        second = SecondMark.objects.filter(practice_set=self.practice_set).first()
        if second is None or self.telling.now - at < STILL_WAITING:
            return at
        rng = Random(f"{self.telling.seed}/{self.plan.email}/{self.plan.nth}/second")  # noqa: S311
        strictness = self.telling.school.strictness[second.assigned_to_id]
        at += SECOND_LOOK_TAKES
        yield at
        look_again(second, strictness, at, rng)
        at += SECOND_MARKS_TAKE
        yield at
        sign_again(second, self.form, strictness, at, rng)
        return at

    def _apply(self, events: Sequence[BenchEvent], now: datetime) -> None:
        results = apply_events(
            actor=self.educator,
            uid=self.practice_set.uid,
            events=events,
            seed=self.rng.getrandbits(62),
            now=now,
        )
        for result in results:
            if result.problem is not None:
                raise DemoRefused(f"{self.plan.email}, set {self.plan.nth + 1}: {result.problem.message}")


def _uuid(rng: Random) -> UUID:
    return UUID(int=rng.getrandbits(128), version=4)

"""Why a session stands where it does, what keeps another one out, and the cheapest change that lets it in."""

from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass, replace

import numpy as np

from courses.planning.candidates import Mask, Sieve, sieve
from courses.planning.constraints import violations
from courses.planning.objective import days_late, sessions_of
from courses.planning.openings import Opening, beside, opening
from courses.planning.problem import Booked, Need, Place, Plan, Problem
from courses.planning.relaxations import relaxations
from courses.planning.sentences import Say, student_of, times, together, utc_words
from courses.planning.solver import solve

RESOLVED_NEEDS = 60  # up to so many needs, a plan is made anew to see what a change would do
RESOLVE_S = 1.0
MOST_REMEDIES = 3

BLOCKERS = {
    "time": "No planned day holds it between its earliest start and the end of the plan.",
    "student": "The student has no free time long enough.",
    "days_apart": "Other sessions of the same skill lie too close.",
    "skill": "No educator may teach this skill.",
    "educator": "No educator who may teach it is there and free when the student is.",
    "room": "No bench is open and free when the student is.",
    "head": "No head with enough layers and a strip young enough is free when the student is.",
    "together": "Educator, bench, head and student are each free at some time, but never all at once.",
    "capacity": "Every educator who may teach it looks after as many students as allowed.",
    "worth": "It would fit, but the plan found is worth more without it, or time ran out first.",
}


@dataclass(frozen=True, slots=True)
class Reason:
    """Why a place is where it is, the strongest reason first."""

    place: Place
    sentences: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Remedy:
    """One change that would let the session in. With ``moves_others`` others must move besides."""

    code: str
    cost: int
    sentence: str
    moves_others: bool = False


@dataclass(frozen=True, slots=True)
class Unplaced:
    """``missing`` sessions of a need; ``blocker``: the rule that shuts most places; cheapest remedy first."""

    need: str
    missing: int
    blocker: str
    sentence: str
    remedies: tuple[Remedy, ...]


def reasons(problem: Problem, plan: Plan, say: Say = utc_words) -> tuple[Reason, ...]:
    """One for each place. Costs some milliseconds a place."""
    return tuple(Reason(place, tuple(_reasons(problem, plan, place, say))) for place in plan.places)


def unplaced(problem: Problem, plan: Plan, say: Say = utc_words) -> tuple[Unplaced, ...]:
    """One for each need that misses sessions. Costs up to a second a need, more when plans are made anew."""
    placed = Counter(place.need for place in plan.places)
    short = [need for need in problem.needs if problem.to_place[need.code] > placed[need.code]]
    return tuple(
        _unplaced(problem, plan, need, problem.to_place[need.code] - placed[need.code], say) for need in short
    )


def _reasons(problem: Problem, plan: Plan, place: Place, say: Say) -> Iterator[str]:
    booking = next((each for each in problem.movable if each.code == place.booked), None)
    if booking is not None and booking.span == place.span:
        yield "It stays where it is booked."
    elif booking is not None:
        yield f"It moves from {say(booking.span.start)}. {_why_it_moves(problem, plan, place, booking)}"
    yield _due_words(problem, place)
    yield _choice_words(problem, plan, place)
    if with_her := _company(problem, plan, place):
        yield f"On the same drill together with {together(with_her)}."
    if apart := _days_before(problem, plan, place):
        yield f"{times(apart, 'day')} after the session of this skill before it."


def _why_it_moves(problem: Problem, plan: Plan, place: Place, booking: Booked) -> str:
    """The rule that its old place would break beside the others, if it breaks one."""
    old = replace(
        place,
        span=booking.span,
        educator=booking.educator,
        room=booking.room,
        bench=booking.bench,
        head=booking.head,
    )
    broken = violations(problem, replace(plan, places=(*_others(plan, place), old)))
    mine = [each.sentence for each in broken if place.need in each.needs]
    return mine[0] if mine else "The whole plan gains by it."


def _others(plan: Plan, place: Place) -> tuple[Place, ...]:
    return tuple(each for each in plan.places if each != place)


def _due_words(problem: Problem, place: Place) -> str:
    need = problem.need_by_code[place.need]
    days = problem.day_of(need.due) - problem.day_of(place.span.start)
    if late := days_late(problem, place):
        return f"{times(late, 'day')} late: no better place was found before it is due."
    return "On the day it is due." if days == 0 else f"{times(days, 'day')} before it is due."


def _choice_words(problem: Problem, plan: Plan, place: Place) -> str:
    """How many starts there were, and whether an earlier one is still free."""
    need = problem.need_by_code[place.need]
    alone = _starts(sieve(problem, need))
    if alone.sum() == 1:
        return "The only start at which student, educator, bench and head are all there."
    one_more = beside(problem, _others(plan, place), need)
    sifted = sieve(one_more, one_more.needs[0])
    earlier = _starts(sifted) & (sifted.starts < place.span.start)
    rank = (
        "the earliest still free"
        if not earlier.any()
        else f"{times(int(earlier.sum()), 'earlier one')} still free"
    )
    return f"One of {alone.sum()} starts that suit; {rank}."


def _company(problem: Problem, plan: Plan, place: Place) -> list[str]:
    need = problem.need_by_code[place.need]
    key = need.drill, place.span.start, place.educator
    names = {each.code: each.name for each in problem.students}
    beside_her = [
        each.student
        for each in sessions_of(problem, plan.places)
        if (each.drill, each.span.start, each.educator) == key and each.student != need.student
    ]
    return [names[code] for code in beside_her]


def _days_before(problem: Problem, plan: Plan, place: Place) -> int | None:
    need, today = problem.need_by_code[place.need], problem.day_of(place.span.start)
    planned = [(problem.need_by_code[each.need], each.span) for each in plan.places]
    spans = [span for other, span in planned if (other.student, other.skill) == (need.student, need.skill)]
    spans += [
        each.span for each in problem.frozen if (each.student, each.skill) == (need.student, need.skill)
    ]
    days = [today - problem.day_of(span.start) for span in spans if span.start < place.span.start]
    return min(days, default=None)


def _unplaced(problem: Problem, plan: Plan, need: Need, missing: int, say: Say) -> Unplaced:
    one_more = beside(problem, plan.places, need)
    blocker, counted = _blocker(problem, one_more, need)
    remedies = list(_remedies(problem, one_more, need, say)) if blocker != "worth" else []
    if not remedies and blocker != "worth" and len(problem.needs) <= RESOLVED_NEEDS:
        remedies = list(_remedies_by_moving(problem, plan, need, say))
    who = student_of(problem, need.code)
    sentence = f"{who}: {times(missing, 'session')} without a place. {BLOCKERS[blocker]}{counted}"
    return Unplaced(need.code, missing, blocker, sentence, tuple(remedies[:MOST_REMEDIES]))


def _blocker(problem: Problem, one_more: Problem, need: Need) -> tuple[str, str]:
    """The rule that empties the list of starts or, when the other sessions do, that shuts most of them."""
    alone, now = sieve(problem, need), sieve(one_more, one_more.needs[0])
    if not _starts(alone).any():
        return _emptied_by(problem, alone), ""
    if opening(one_more) is not None:
        return "worth", ""
    count: Counter[str] = Counter()
    open_now = dict(zip(now.starts.tolist(), range(len(now.starts)), strict=True))
    for start in alone.starts[_starts(alone)].tolist():
        count[_shut_by(now, open_now.get(start))] += 1
    (most, shut), total = count.most_common(1)[0], count.total()
    return most, f" That shuts {shut} of the {total} starts that would suit."


def _emptied_by(problem: Problem, alone: Sieve) -> str:
    left = np.ones(len(alone.starts), bool)
    taught = any(alone.need.skill in each.skills for each in problem.educators)
    masks = {
        "time": alone.in_time,
        "student": alone.student_free,
        "days_apart": alone.spaced,
        "skill": np.full(len(left), taught),
        "educator": alone.educators.any(axis=0),
        "room": alone.rooms.any(axis=0),
        "head": alone.head_free,
    }
    for rule, mask in masks.items():
        left = left & mask
        if not left.any():
            return rule
    return "together"


def _shut_by(now: Sieve, at: int | None) -> str:
    """The first rule that shuts a start; when a pair of educator and room seems open, her seats are full."""
    if at is None:
        return "time"
    checks = {
        "student": now.student_free[at],
        "days_apart": now.spaced[at],
        "head": now.head_free[at],
        "room": now.rooms[:, at].any(),
        "educator": (now.pairs & now.educators[:, None] & now.rooms[None])[:, :, at].any(),
    }
    return next((rule for rule, is_open in checks.items() if not is_open), "capacity")


def _remedies(problem: Problem, one_more: Problem, need: Need, say: Say) -> Iterator[Remedy]:
    """While all others stay where they are."""
    for each in relaxations(problem, need):
        if (fit := opening(each.apply(one_more))) is not None:
            yield Remedy(each.code, each.cost, each.words(fit, say))


def _remedies_by_moving(problem: Problem, plan: Plan, need: Need, say: Say) -> Iterator[Remedy]:
    """The first change with which a new plan places this need once more, and no fewer of the others."""
    before = Counter(place.need for place in plan.places)
    for each in relaxations(problem, need):
        after = solve(each.apply(problem), time_limit_s=RESOLVE_S, seed=0, workers=1)
        now = Counter(place.need for place in after.places)
        if now[need.code] > before[need.code] and now.total() > before.total():
            fit = next(place for place in after.places if place.need == need.code)
            words = each.words(Opening(fit.span, fit.educator, fit.room), say)
            yield Remedy(
                each.code, each.cost, f"{words} Others would have to move as well.", moves_others=True
            )
            return


def _starts(sifted: Sieve) -> Mask:
    """Starts with any educator and room."""
    return np.asarray(sifted.open_pairs.any(axis=(0, 1)), bool)

"""One rule let go at a time: what a school could change to let one more session in, the cheapest first."""

from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace

from courses.planning.openings import Opening
from courses.planning.problem import Bench, Educator, Head, Need, Problem, Room, Span
from courses.planning.sentences import Say, name_of, times


@dataclass(frozen=True, slots=True)
class Relaxation:
    """``cost`` only orders: to ask a student comes before to build a bench (a decision of ours)."""

    code: str
    cost: int
    apply: Callable[[Problem], Problem]
    words: Callable[[Opening, Say], str]


def relaxations(problem: Problem, need: Need) -> tuple[Relaxation, ...]:
    """In order of cost."""
    every = [
        *_by_student(problem, need),
        *_by_need(problem, need),
        *_by_session(problem, need),
        *_by_educator(problem, need),
        *_by_room(problem, need),
    ]
    return tuple(sorted(every, key=lambda each: each.cost))


def _by_student(problem: Problem, need: Need) -> Iterator[Relaxation]:
    name = name_of(problem.students, need.student)

    def apply(given: Problem) -> Problem:
        students = given.students
        changed = (
            replace(each, free=_always(given)) if each.code == need.student else each for each in students
        )
        return replace(given, students=tuple(changed))

    yield Relaxation(
        "student_time", 1, apply, lambda fit, say: f"If {name} could come on {say(fit.span.start)}."
    )


def _by_need(problem: Problem, need: Need) -> Iterator[Relaxation]:
    least = problem.least_days[need.student, need.skill]
    if least > 1:
        yield Relaxation(
            "days_apart",
            2,
            lambda given: _needs(given, lambda each: _close(each, need)),
            lambda fit, say: (
                f"If sessions of one skill could be less than {times(least, 'day')} apart: "
                f"{say(fit.span.start)}."
            ),
        )
    if need.earliest > problem.frozen_until:
        yield Relaxation(
            "earliest",
            3,
            lambda given: _needs(given, lambda each: _sooner(each, need, problem.frozen_until)),
            lambda fit, say: f"If it could begin before {say(need.earliest)}: {say(fit.span.start)}.",
        )


def _by_session(problem: Problem, need: Need) -> Iterator[Relaxation]:
    kind = problem.kind_by_code[need.kind]

    def apply(given: Problem) -> Problem:
        more = (
            replace(each, capacity=each.capacity + 1) if each.code == kind.code else each
            for each in given.kinds
        )
        return replace(given, kinds=tuple(more))

    yield Relaxation(
        "capacity",
        4,
        apply,
        lambda fit, say: (
            f"If {name_of(problem.educators, fit.educator)} looked after one student more than "
            f"{kind.capacity} on {say(fit.span.start)}."
        ),
    )
    if kind.needs_head:
        spare = Head("one more", "one more head", need.layers)
        yield Relaxation(
            "head",
            5,
            lambda given: replace(given, heads=(*given.heads, spare)),
            lambda fit, say: f"With one more head of {times(need.layers, 'layer')} on {say(fit.span.start)}.",
        )


def _by_educator(problem: Problem, need: Need) -> Iterator[Relaxation]:
    for educator in problem.educators:
        if need.skill in educator.skills:
            yield Relaxation("educator_time", 6, _longer(educator), _says_works(educator))
        else:
            yield Relaxation("educator_skill", 7, _taught(educator, need.skill), _says_teaches(educator))


def _by_room(problem: Problem, need: Need) -> Iterator[Relaxation]:
    allowed = problem.kind_by_code[need.kind].rooms
    for room in problem.rooms:
        if allowed is None or room.code in allowed:
            bench = Bench(f"one more in {room.code}", "one more bench")
            yield Relaxation("bench", 9, _room(room, benches=(*room.benches, bench)), _says_bench(room))
            yield Relaxation("room_time", 8, _room(room, open=_always(problem)), _says_open(room))


def _always(problem: Problem) -> tuple[Span, ...]:
    return (Span(problem.day_starts[0], problem.day_starts[-1]),)


def _needs(problem: Problem, changed: Callable[[Need], Need]) -> Problem:
    return replace(problem, needs=tuple(changed(each) for each in problem.needs))


def _close(each: Need, need: Need) -> Need:
    """Sessions of the student in the skill may lie on neighbouring days."""
    is_alike = (each.student, each.skill) == (need.student, need.skill)
    return replace(each, least_days=1) if is_alike else each


def _sooner(each: Need, need: Need, earliest: int) -> Need:
    return replace(each, earliest=earliest) if each.code == need.code else each


def _longer(educator: Educator) -> Callable[[Problem], Problem]:
    return lambda given: _educator(given, replace(educator, working=_always(given)))


def _taught(educator: Educator, skill: str) -> Callable[[Problem], Problem]:
    return lambda given: _educator(given, replace(educator, skills=educator.skills | {skill}))


def _educator(problem: Problem, changed: Educator) -> Problem:
    educators = (changed if each.code == changed.code else each for each in problem.educators)
    return replace(problem, educators=tuple(educators))


def _room(room: Room, **changes: object) -> Callable[[Problem], Problem]:
    changed = replace(room, **changes)  # type: ignore[arg-type]
    return lambda given: replace(
        given, rooms=tuple(changed if each.code == room.code else each for each in given.rooms)
    )


def _says_works(educator: Educator) -> Callable[[Opening, Say], str]:
    return lambda fit, say: f"If {educator.name} worked on {say(fit.span.start)}."


def _says_teaches(educator: Educator) -> Callable[[Opening, Say], str]:
    return lambda fit, say: f"If {educator.name} could teach this skill: {say(fit.span.start)}."


def _says_bench(room: Room) -> Callable[[Opening, Say], str]:
    return lambda fit, say: f"With one more bench in {room.name} on {say(fit.span.start)}."


def _says_open(room: Room) -> Callable[[Opening, Say], str]:
    return lambda fit, say: f"If {room.name} were open on {say(fit.span.start)}."

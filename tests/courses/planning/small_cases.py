"""Random cases small enough to try every combination, and odd enough to meet every rule."""

import random
from dataclasses import replace

from courses.planning.problem import (
    Bench,
    Booked,
    Educator,
    Head,
    Need,
    Problem,
    Room,
    SessionKind,
    Span,
    Student,
    Weights,
)

HOUR = 60
FIRST = 29_685_600
SKILLS = ("isolation", "placement")
MIXED = ["bench", "bench", "drill", "live"]


def small_case(seed):
    return held_case(seed) if seed % 3 == 0 else mixed_case(seed)


def held_case(seed):
    """A morning in which some seats are taken for good: by others, or by a student who needs more."""
    rng = random.Random(seed)
    starts, kind = _day_starts(rng, 1), rng.choice(["bench", "drill"])
    seats = tuple(Bench(f"r0b{nth}", f"Bench {nth}") for nth in range(3))
    booked = [_held(rng, nth, kind, starts[0]) for nth in range(rng.randint(1, 3))]
    needs = [_need(rng, nth, student, kind, starts) for nth, student in enumerate((0, 0, 1))]
    needs = [replace(each, length_min=rng.choice([60, 90, 90])) for each in needs]
    return Problem(
        day_starts=starts,
        frozen_until=starts[0],
        students=tuple(_student(rng, nth, starts) for nth in range(4)),
        educators=(Educator("e0", "Educator 0", _times(rng, starts, 1), frozenset(SKILLS)),),
        rooms=(Room("r0", "Room 0", _times(rng, starts, 1), seats),),
        heads=tuple(Head(f"h{nth}", f"Head {nth}", 2) for nth in range(3)),
        kinds=_kinds(rng),
        needs=tuple(replace(each, skill=SKILLS[nth % 2]) for nth, each in enumerate(needs)),
        booked=tuple(booked),
        weights=_weights(rng),
        step_min=30,
        long_min=90,
    )


def _held(rng, nth, kind, day):
    start = day + rng.choice([9, 10, 11]) * HOUR
    span = Span(start, start + rng.choice([60, 60, 90, 120]))
    drill, student = rng.choice(["open", "close"]), rng.choice(["s0", "s2", "s3"])
    return Booked(f"b{nth}", student, "other", drill, kind, span, "e0", "r0", f"r0b{nth}", f"h{nth}")


def mixed_case(seed):
    """Every other case is crowded: four students want the same three hours."""
    rng, crowded = random.Random(seed), seed % 2 == 0
    starts = _day_starts(rng, 1 if crowded else rng.choice([3, 5, 9]))
    students = 4 if crowded else rng.randint(1, 3)
    rooms = tuple(_room(rng, nth, starts) for nth in range(rng.choice([1, 1, 2])))
    kinds = rng.choice((["bench"], ["bench"], ["drill"], MIXED)) if crowded else MIXED
    who = range(4) if crowded else [rng.randrange(students) for _ in range(rng.choice([2, 2, 3]))]
    needs = tuple(_need(rng, nth, student, rng.choice(kinds), starts) for nth, student in enumerate(who))
    educators = tuple(_educator(rng, nth, starts) for nth in range(rng.choice([1, 1, 2])))
    heads = tuple(_head(rng, nth, starts) for nth in range(rng.randint(1, 2) + crowded))
    return Problem(
        day_starts=starts,
        frozen_until=starts[0] + rng.choice([0, 0, 0, 10 * HOUR] if crowded else [0, 0, 10 * HOUR, 1440]),
        students=tuple(_student(rng, nth, starts) for nth in range(students)),
        educators=educators,
        rooms=rooms,
        heads=heads,
        kinds=_kinds(rng),
        needs=needs,
        booked=tuple(_booked(rng, needs, rooms, educators, heads, starts)),
        weights=_weights(rng),
        step_min=HOUR,
        long_min=90,
    )


def _kinds(rng):
    return (
        SessionKind("bench", "supervised bench", rng.choice([1, 2, 2, 3])),
        SessionKind("drill", "group drill", rng.choice([1, 2, 2, 3]), is_group=True),
        SessionKind("live", "live-model day", 2, needs_head=False, rooms=frozenset({"r0"})),
    )


def _student(rng, nth, starts):
    return Student(f"s{nth}", f"Student {nth}", _times(rng, starts, 0.9))


def _educator(rng, nth, starts):
    skills = rng.sample(SKILLS, rng.choice([1, 2, 2, 2]))
    return Educator(f"e{nth}", f"Educator {nth}", _times(rng, starts, 0.9), frozenset(skills))


def _day_starts(rng, days):
    """One of the days may have 23 or 25 hours."""
    lengths = [1440] * days
    lengths[rng.randrange(days)] += rng.choice([0, 0, 60, -60])
    starts = [FIRST]
    for length in lengths:
        starts.append(starts[-1] + length)
    return tuple(starts)


def _times(rng, starts, share):
    """Some mornings; now and then in two pieces that touch."""
    if len(starts) == 2:
        return (Span(starts[0] + 9 * HOUR, starts[0] + 12 * HOUR),)
    spans = []
    for start in starts[:-1]:
        if rng.random() < share:
            begin, end = start + rng.choice([9, 10]) * HOUR, start + rng.choice([12, 12, 13]) * HOUR
            middle = (begin + end) // 2
            spans += [Span(begin, end)] if rng.random() < 0.7 else [Span(middle, end), Span(begin, middle)]
    return tuple(spans)


def _room(rng, nth, starts):
    closed = (Span(starts[0] + 10 * HOUR, starts[0] + 11 * HOUR),) if rng.random() < 0.2 else ()
    benches = tuple(
        Bench(f"r{nth}b{bench}", f"Bench {bench}", closed) for bench in range(rng.choice([1, 1, 2]))
    )
    return Room(f"r{nth}", f"Room {nth}", _times(rng, starts, 0.95), benches)


def _head(rng, nth, starts):
    fitted = (
        starts[0] - 1440 * rng.randint(0, 3) + rng.choice([0, 630])
    )  # old at midnight, or at half past ten
    held = (Span(starts[-2] + 9 * HOUR, starts[-2] + 11 * HOUR),) if rng.random() < 0.2 else ()
    return Head(
        f"h{nth}", f"Head {nth}", rng.randint(1, 2), fitted, rng.choice([None, None, None, 2, 5]), held
    )


def _need(rng, nth, student, kind, starts):
    least = rng.choice([1, 2, 3])
    return Need(
        code=f"n{nth}",
        student=f"s{student}",
        skill=rng.choice(SKILLS),
        drill=rng.choice(["open", "close"]),
        kind=kind,
        length_min=rng.choice([60, 60, 60, 90, 120]),
        earliest=starts[0] + rng.choice([0, 0, 0, 600, 600 if len(starts) == 2 else 2040]),
        due=starts[0] + 1440 * rng.randint(-2, len(starts)),
        priority=rng.randint(1, 3),
        sessions=rng.choice([1, 1, 2]),
        layers=rng.choice([1, 1, 2]),
        least_days=least,
        most_days=least + rng.randint(0, 3),
    )


def _booked(rng, needs, rooms, educators, heads, starts):
    """Nobody is in two places at once: claims see to that, whatever else has changed since."""
    count = rng.choice([0, 1, 2, 3] if len(starts) == 2 else [0, 0, 1, 2, 3])
    found = [_booking(rng, nth, needs, rooms, educators, heads, starts) for nth in range(count)]
    return [each for nth, each in enumerate(found) if not any(_meet(each, other) for other in found[:nth])]


def _meet(one, other):
    same_time = one.span.start < other.span.end and other.span.start < one.span.end
    return same_time and one.student == other.student


def _booking(rng, nth, needs, rooms, educators, heads, starts):
    """Somewhere, be it against the rules: the school has changed since."""
    need, room, day = rng.choice(needs), rng.choice(rooms), rng.choice(starts[:-1])
    start = day + rng.choice([9, 10, 9.5]) * HOUR
    return Booked(
        code=f"b{nth}",
        student=need.student,
        skill=need.skill,
        drill=need.drill,
        kind=need.kind,
        span=Span(int(start), int(start) + rng.choice([need.length_min, need.length_min, 60])),
        educator=rng.choice(educators).code,
        room=room.code,
        bench=rng.choice(room.benches).code,
        head=rng.choice(heads).code if need.kind != "live" else None,
        need=need.code if rng.random() < 0.8 else None,
        is_fixed=rng.random() < 0.4,
    )


def _weights(rng):
    return Weights(
        placed=rng.choice([100, 30]),
        late_day=rng.choice([5, 0, 12]),
        late_days_most=rng.choice([14, 2]),
        apart_day=rng.choice([3, 15]),
        long_again=rng.choice([20, 120]),
        unfair=rng.choice([15, 60]),
        together=rng.choice([6, 0, 50]),
        changed=rng.choice([40, 0, 150]),
    )

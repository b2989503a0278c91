"""Invented schools for the planner: one large enough to be measured on, one small enough to be searched."""

import random
from dataclasses import replace

from courses.planning.problem import (
    Bench,
    Booked,
    Educator,
    Head,
    Need,
    Place,
    Plan,
    Problem,
    Room,
    SessionKind,
    Span,
    Student,
)

DAY, HOUR = 1440, 60
MONDAY = 29_685_600 + 4 * DAY  # a Monday, 00:00 UTC
SKILLS = ("isolation", "placement", "fan_closure", "direction", "adhesive", "speed")
BENCH = SessionKind("bench", "supervised bench", 4)
DRILL = SessionKind("drill", "group drill", 6, is_group=True)
LIVE = SessionKind("live", "live-model day", 3, needs_head=False, rooms=frozenset({"r0"}))


def day_starts(days):
    return tuple(MONDAY + DAY * nth for nth in range(days + 1))


def hours(day, start, end):
    return Span(MONDAY + DAY * day + int(HOUR * start), MONDAY + DAY * day + int(HOUR * end))


def weekdays(weeks):
    return [7 * week + day for week in range(weeks) for day in range(5)]


def weekly(rng, weeks, windows):
    """The same windows every week, each a weekday, a start and an end."""
    chosen = [(rng.randrange(5), *windows()) for _ in range(rng.randint(3, 5))]
    return tuple(hours(7 * week + day, start, end) for week in range(weeks) for day, start, end in chosen)


def school(*, seed, weeks, needs, benches, rooms, educators, sessions=(1, 1, 2), days_a_week=4):
    """A school open on weekdays 9 to 18; students are free three to five half days a week."""
    rng = random.Random(seed)
    students = max(1, needs * 2 // 5)
    crowd = [
        Student(
            f"s{nth}", f"Student {nth}", weekly(rng, weeks, lambda: rng.choice([(9, 13), (12, 16), (14, 18)]))
        )
        for nth in range(students)
    ]
    return Problem(
        day_starts=day_starts(7 * weeks),
        frozen_until=MONDAY,
        students=tuple(crowd),
        educators=tuple(_educator(rng, nth, weeks, days_a_week) for nth in range(educators)),
        rooms=tuple(_room(nth, benches // rooms, weeks) for nth in range(rooms)),
        heads=tuple(Head(f"h{nth}", f"Head {nth}", 1 + nth % 3) for nth in range(benches)),
        kinds=(BENCH, DRILL, LIVE),
        needs=tuple(_need(rng, nth, students, weeks, sessions) for nth in range(needs)),
    )


def _educator(rng, nth, weeks, days_a_week):
    pattern = rng.sample(range(5), days_a_week)
    working = tuple(hours(7 * week + day, 9, 18) for week in range(weeks) for day in sorted(pattern))
    return Educator(f"e{nth}", f"Educator {nth}", working, frozenset(rng.sample(SKILLS, 4)))


def _room(nth, benches, weeks):
    seats = tuple(Bench(f"r{nth}b{bench}", f"Bench {bench}") for bench in range(benches))
    return Room(f"r{nth}", f"Room {nth}", tuple(hours(day, 9, 18) for day in weekdays(weeks)), seats)


def _need(rng, nth, students, weeks, sessions):
    skill = rng.choice(SKILLS)
    return Need(
        code=f"n{nth}",
        student=f"s{rng.randrange(students)}",
        skill=skill,
        drill=f"{skill}-{rng.randrange(2)}",
        kind=rng.choice(["bench", "bench", "bench", "drill", "live"]),
        length_min=rng.choice([60, 90, 120, 150]),
        earliest=MONDAY + DAY * rng.randrange(3 * weeks),
        due=MONDAY + DAY * rng.randrange(7, 7 * weeks + 1),
        priority=rng.choice([1, 2, 3]),
        sessions=rng.choice(sessions),
        layers=rng.choice([1, 1, 2]),
    )


def booked_school(problem, places, *, frozen_days):
    """The same school later: the places are bookings now, and those of the first days no longer change."""
    booked = tuple(_booked(problem, place, nth) for nth, place in enumerate(places))
    return replace(problem, booked=booked, frozen_until=MONDAY + frozen_days * DAY)


def _booked(problem, place, nth):
    need = problem.need_by_code[place.need]
    return Booked(
        code=f"b{nth}",
        student=need.student,
        skill=need.skill,
        drill=need.drill,
        kind=need.kind,
        span=place.span,
        educator=place.educator,
        room=place.room,
        bench=place.bench,
        head=place.head,
        need=need.code,
    )


def one_bench(**changes):
    """Ada needs an hour of isolation. Ines works on Monday and Tuesday from 9 to 12; one bench, one head."""
    both = (hours(0, 9, 12), hours(1, 9, 12))
    problem = Problem(
        day_starts=day_starts(7),
        frozen_until=MONDAY,
        students=(Student("ada", "Ada", both), Student("noor", "Noor", both)),
        educators=(Educator("ines", "Ines", both, frozenset({"isolation"})),),
        rooms=(Room("r0", "Room A", both, (Bench("b1", "Bench 1"),)),),
        heads=(Head("h1", "Head 1", 2),),
        kinds=(BENCH, DRILL, LIVE),
        needs=(a_need("n1"),),
        step_min=60,
    )
    return replace(problem, **changes)


def a_need(code, student="ada", **changes):
    need = Need(code, student, "isolation", "one by one", "bench", 60, MONDAY, MONDAY + 7 * DAY)
    return replace(need, **changes)


def at(day, hour, *, need="n1", minutes=60, **changes):
    """A place in Ines's room."""
    start = hours(day, hour, hour + 1).start
    return replace(Place(need, Span(start, start + minutes), "ines", "r0", "b1", "h1"), **changes)


def booking(day, hour, *, code="b1", student="ada", need="n1", **changes):
    start = hours(day, hour, hour + 1)
    row = Booked(code, student, "isolation", "one by one", "bench", start, "ines", "r0", "b1", "h1", need)
    return replace(row, **changes)


def plan_of(*places):
    return Plan(places, 0, 0)

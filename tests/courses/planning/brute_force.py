"""The best plan of a small case by trying every combination. Shares nothing with the planner but its data."""

from itertools import combinations, pairwise
from math import comb, prod

from courses.planning.problem import MINUTES_A_DAY

QUARTER = 15  # every time of a small case is a multiple of it


class Search:
    def __init__(self, problem):
        self.problem = problem
        self.kinds = {kind.code: kind for kind in problem.kinds}
        self.frozen = [self.as_seat(each) for each in problem.booked if self.is_frozen(each)]
        self.movable = [each for each in problem.booked if not self.is_frozen(each)]
        held = [seat["need"] for seat in self.frozen]
        self.wanted = {need.code: max(0, need.sessions - held.count(need.code)) for need in problem.needs}
        self.options = [self.options_of(need) for need in problem.needs]
        self.best = None

    def best_value(self):
        """The highest value of any set of seats that keeps all rules; every set is tried."""
        self.extend(0, [])
        return self.best

    def combinations(self):
        """How many sets of seats there are to try, those against the rules included."""
        sizes = zip(self.problem.needs, self.options, strict=True)
        choices = (
            sum(comb(len(seats), n) for n in range(self.wanted[need.code] + 1)) for need, seats in sizes
        )
        return prod(choices)

    def is_frozen(self, booking):
        return booking.is_fixed or booking.need is None or booking.span.start < self.problem.frozen_until

    def as_seat(self, booking):
        seat = {name: getattr(booking, name) for name in ("student", "skill", "drill", "kind", "educator")}
        seat |= {name: getattr(booking, name) for name in ("room", "bench", "head", "need")}
        return seat | {
            "start": booking.span.start,
            "end": booking.span.end,
            "day": self.day(booking.span.start),
        }

    def day(self, minute):
        starts = self.problem.day_starts
        if minute < starts[0]:
            return -1 - (starts[0] - minute - 1) // MINUTES_A_DAY
        return max(nth for nth, start in enumerate(starts) if start <= minute)

    def extend(self, nth, chosen):
        """Every choice for the nth need after those chosen for the needs before it."""
        if nth == len(self.options):
            value = self.value(chosen)
            self.best = value if self.best is None else max(self.best, value)
            return
        need = self.problem.needs[nth]
        for count in range(self.wanted[need.code] + 1):
            for seats in combinations(self.options[nth], count):
                together = chosen + list(seats)
                if all(self.fits(seat, together) for seat in seats):
                    self.extend(nth + 1, together)

    def options_of(self, need):
        problem, options = self.problem, []
        starts = {
            minute
            for first, end in zip(problem.day_starts, problem.day_starts[1:], strict=False)
            for minute in range(first, end, problem.step_min)
        }
        starts |= {each.span.start for each in self.movable if each.need == need.code}
        for start in sorted(starts):
            for educator in problem.educators:
                for room in problem.rooms:
                    for bench in room.benches:
                        for head in self.heads_for(need):
                            seat = self.seat(need, start, educator, room, bench, head)
                            if self.stands_alone(need, seat, educator, room, bench, head):
                                options.append(seat)
        return options

    def heads_for(self, need):
        return self.problem.heads if self.kinds[need.kind].needs_head else [None]

    def seat(self, need, start, educator, room, bench, head):
        return {
            "student": need.student, "skill": need.skill, "drill": need.drill, "kind": need.kind,
            "start": start, "end": start + need.length_min, "day": self.day(start), "educator": educator.code,
            "room": room.code, "bench": bench.code, "head": head and head.code, "need": need.code,
        }  # fmt: skip

    def stands_alone(self, need, seat, educator, room, bench, head):
        problem, kind = self.problem, self.kinds[need.kind]
        student = next(each for each in problem.students if each.code == need.student)
        return (
            seat["start"] >= max(problem.frozen_until, need.earliest)
            and seat["end"] <= problem.day_starts[seat["day"] + 1]
            and minutes_inside(student.free, seat)
            and minutes_inside(educator.working, seat)
            and need.skill in educator.skills
            and minutes_inside(room.open, seat)
            and (kind.rooms is None or room.code in kind.rooms)
            and clear(bench.closed, seat)
            and (head is None or self.head_serves(need, head, seat))
            and self.fits(seat, [seat])
        )

    def head_serves(self, need, head, seat):
        young = head.strip_days is None or seat["end"] - head.strip_fitted_at <= 1440 * head.strip_days
        fitted = head.strip_fitted_at <= seat["start"]
        return head.layers >= need.layers and young and fitted and clear(head.held, seat)

    def fits(self, seat, chosen):
        """Beside every other seat and the frozen bookings."""
        others = [each for each in chosen if each is not seat] + self.frozen
        return all(self.agree(seat, each) for each in others) and self.seats_left(seat, others)

    def agree(self, a, b):
        least = max(
            [
                1,
                *(
                    n.least_days
                    for n in self.problem.needs
                    if (n.student, n.skill) == (a["student"], a["skill"])
                ),
            ]
        )
        same_skill = (a["student"], a["skill"]) == (b["student"], b["skill"])
        if same_skill and abs(a["day"] - b["day"]) < least:
            return False
        if not (a["start"] < b["end"] and b["start"] < a["end"]):
            return True
        if a["student"] == b["student"] or a["bench"] == b["bench"]:
            return False
        if a["head"] is not None and a["head"] == b["head"]:
            return False
        if a["educator"] != b["educator"]:
            return True
        if (a["kind"], a["room"]) != (b["kind"], b["room"]):
            return False
        same_group = (a["drill"], a["start"], a["end"]) == (b["drill"], b["start"], b["end"])
        return same_group or not self.kinds[a["kind"]].is_group

    def seats_left(self, seat, others):
        capacity = self.kinds[seat["kind"]].capacity
        with_her = [each for each in others if each["educator"] == seat["educator"]]
        return all(
            1 + sum(each["start"] <= minute < each["end"] for each in with_her) <= capacity
            for minute in range(seat["start"], seat["end"], QUARTER)
        )

    def value(self, chosen):
        problem, weights = self.problem, self.problem.weights
        needs = {each.code: each for each in problem.needs}
        points, everybody = 0, chosen + self.frozen
        for seat in chosen:
            late = min(weights.late_days_most, max(0, seat["day"] - self.day(needs[seat["need"]].due)))
            points += needs[seat["need"]].priority * (weights.placed - weights.late_day * late)
        for need in problem.needs:
            days = sorted(seat["day"] for seat in everybody if seat["need"] == need.code)
            for before, after in pairwise(days):
                points -= weights.apart_day * max(0, after - before - need.most_days)
        for student in problem.students:
            points -= self.costs_of(student.code, chosen, everybody)
        groups = {(seat["drill"], seat["start"], seat["educator"]) for seat in everybody}
        points += weights.together * (len(everybody) - len(groups))
        for booking in self.movable:
            place = booking.need, booking.span.start, booking.span.end, booking.educator, booking.room
            kept = [(s["need"], s["start"], s["end"], s["educator"], s["room"]) for s in chosen]
            points -= weights.changed * (place not in kept)
        return points

    def costs_of(self, student, chosen, everybody):
        weights = self.problem.weights
        wanted = sum(self.wanted[need.code] for need in self.problem.needs if need.student == student)
        without = wanted - sum(seat["student"] == student for seat in chosen)
        long = [
            s["day"]
            for s in everybody
            if s["student"] == student and s["end"] - s["start"] >= self.problem.long_min
        ]
        return weights.unfair * sum(range(without)) + weights.long_again * (len(long) - len(set(long)))


def minutes_inside(spans, seat):
    covered = {minute for span in spans for minute in range(span.start, span.end, QUARTER)}
    return all(minute in covered for minute in range(seat["start"], seat["end"], QUARTER))


def clear(spans, seat):
    return all(span.end <= seat["start"] or seat["end"] <= span.start for span in spans)

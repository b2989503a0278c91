"""Benches and heads by name, once times and rooms are settled. Who stays keeps her own where it can be."""

from collections import defaultdict
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, replace

from courses.planning.problem import Place, Problem, Span

TRIES = 20_000
Offers = Callable[[Place], list[str]]


@dataclass(frozen=True, slots=True)
class _Job:
    """``choices``: codes that would do, best first."""

    span: Span
    choices: tuple[str, ...]


def seated(problem: Problem, places: Iterable[Place]) -> tuple[tuple[Place, ...], tuple[Place, ...]]:
    """The places with bench and head, and those that no bench or head could be found for.

    Searched to the end for each room and day, up to so many tries; while there is no way, the last to start
    goes without.
    """
    done, without = _named(problem, tuple(places), "bench", _benches(problem))
    on_heads = [each for each in done if _kind_needs_head(problem, each)]
    others = [each for each in done if not _kind_needs_head(problem, each)]
    with_heads, no_head = _named(problem, on_heads, "head", _heads(problem))
    return tuple(sorted([*with_heads, *others])), (*without, *no_head)


def _kind_needs_head(problem: Problem, place: Place) -> bool:
    return problem.kind_by_code[problem.need_by_code[place.need].kind].needs_head


def _named(
    problem: Problem, places: Iterable[Place], what: str, offers: Offers
) -> tuple[list[Place], list[Place]]:
    groups: dict[tuple[int, str], list[Place]] = defaultdict(list)
    for place in sorted(places, key=lambda each: (each.span, each.need)):
        groups[problem.day_of(place.span.start), place.room if what == "bench" else ""].append(place)
    own = {each.code: each.bench if what == "bench" else each.head or "" for each in problem.movable}
    done: list[Place] = []
    without: list[Place] = []
    for group in groups.values():
        while (codes := _codes(group, own, offers)) is None:
            without.append(group.pop())
        named = zip(group, codes, strict=True)
        done += [
            replace(each, bench=code) if what == "bench" else replace(each, head=code) for each, code in named
        ]
    return done, without


def _codes(group: list[Place], own: Mapping[str, str], offers: Offers) -> list[str] | None:
    """First with everybody who stays held to her own, then with all free to change."""
    offered = [offers(place) for place in group]
    kept = [own.get(place.booked or "", "") for place in group]
    held = [[mine] if mine in codes else codes for mine, codes in zip(kept, offered, strict=True)]
    loose = [sorted(codes, key=lambda code: code != mine) for mine, codes in zip(kept, offered, strict=True)]
    for lists in (held, loose) if any(kept) else (loose,):
        jobs = [_Job(place.span, tuple(codes)) for place, codes in zip(group, lists, strict=True)]
        if (found := _coloured(jobs)) is not None:
            return found
    return None


def _coloured(jobs: list[_Job]) -> list[str] | None:
    """One choice for each job, none for two jobs at once: depth first over jobs in order of their start."""
    chosen: list[str] = []
    tried = [0]
    tries = 0
    while len(chosen) < len(jobs):
        job, tries = jobs[len(chosen)], tries + 1
        taken = {code for other, code in zip(jobs, chosen, strict=False) if other.span.overlaps(job.span)}
        place = next((n for n in range(tried[-1], len(job.choices)) if job.choices[n] not in taken), None)
        if place is not None:
            chosen.append(job.choices[place])
            tried[-1] = place + 1
            tried.append(0)
        elif not chosen or tries > TRIES:
            return None
        else:
            tried.pop()
            chosen.pop()
    return chosen


def _benches(problem: Problem) -> Offers:
    busy: dict[str, list[Span]] = defaultdict(list)
    for booking in problem.frozen:
        busy[booking.bench].append(booking.span)
    rooms = {each.code: each.benches for each in problem.rooms}

    def offers(place: Place) -> list[str]:
        benches = rooms[place.room]
        return [each.code for each in benches if _is_clear(place.span, [*each.closed, *busy[each.code]])]

    return offers


def _heads(problem: Problem) -> Offers:
    """Those with the fewest layers that will do first, so that the others stay for whoever needs them."""
    busy: dict[str, list[Span]] = defaultdict(list)
    for booking in problem.frozen:
        busy[booking.head or ""].append(booking.span)
    heads = sorted(problem.heads, key=lambda head: (head.layers, head.code))

    def offers(place: Place) -> list[str]:
        layers = problem.need_by_code[place.need].layers
        return [
            each.code
            for each in heads
            if each.layers >= layers
            and each.strip_fitted_at <= place.span.start
            and (each.strip_ends_at is None or place.span.end <= each.strip_ends_at)
            and _is_clear(place.span, [*each.held, *busy[each.code]])
        ]

    return offers


def _is_clear(span: Span, others: Iterable[Span]) -> bool:
    return not any(span.overlaps(other) for other in others)

"""Benches and heads by name, when counts alone do not tell."""

from dataclasses import replace

import pytest

from courses.planning.problem import Bench, Head, Room, Span
from courses.planning.seating import seated
from tests.courses.planning.schools import a_need, at, booking, hours, one_bench

OPEN = one_bench().rooms[0].open


def school(benches, heads, needs, **changes):
    room = Room("r0", "Room A", OPEN, tuple(Bench(code, code) for code in benches))
    return one_bench(rooms=(room,), heads=heads, needs=needs, **changes)


def nameless(*places):
    return [replace(place, bench="", head=None) for place in places]


def test_everybody_gets_a_bench_and_the_plainest_head_that_will_do():
    needs = (a_need("n1", layers=1), a_need("n2", student="noor", layers=2))
    problem = school(("b1", "b2"), (Head("h1", "Head 1", 2), Head("h2", "Head 2", 1)), needs)
    done, without = seated(problem, nameless(at(0, 9), at(0, 9, need="n2")))
    assert without == () and {place.bench for place in done} == {"b1", "b2"}
    assert {place.need: place.head for place in done} == {"n1": "h2", "n2": "h1"}


def test_a_bench_passes_on_from_one_session_to_the_next():
    problem = school(("b1",), one_bench().heads, (a_need("n1"), a_need("n2", student="noor")))
    done, without = seated(problem, nameless(at(0, 9), at(0, 10, need="n2")))
    assert without == () and [place.bench for place in done] == ["b1", "b1"]


def test_a_booking_that_stays_keeps_its_bench_and_head():
    needs = (a_need("n1"), a_need("n2", student="noor"))
    heads = (Head("h1", "Head 1", 2), Head("h2", "Head 2", 2))
    stays = booking(0, 10, bench="b2", head="h2", student="noor", need="n2")
    problem = school(("b1", "b2"), heads, needs, booked=(stays,))
    done, _ = seated(problem, nameless(at(0, 10), at(0, 10, need="n2", booked="b1")))
    kept = next(place for place in done if place.booked)
    assert (kept.bench, kept.head) == ("b2", "h2")


def test_own_benches_give_way_when_nobody_fits_otherwise():
    # Noor and Tove were both given bench 1 at ten; one of them has to change.
    needs = (a_need("n1"), a_need("n2", student="noor"))
    heads = (Head("h1", "Head 1", 2), Head("h2", "Head 2", 2))
    both = (booking(0, 10), booking(0, 10, code="b2", student="noor", need="n2"))
    problem = school(("b1", "b2"), heads, needs, booked=both)
    done, without = seated(problem, nameless(at(0, 10, booked="b1"), at(0, 10, need="n2", booked="b2")))
    assert without == () and {place.bench for place in done} == {"b1", "b2"}


def test_counts_may_fit_where_names_do_not():
    # Bench 1 is taken 9-10, bench 2 10-11: one bench is free at each instant, none from 9.30 to 10.30.
    frozen = (
        booking(0, 9, student="noor", need=None, head=None),
        booking(0, 10, code="b2", student="noor", need=None, bench="b2", head=None),
    )
    problem = school(("b1", "b2"), one_bench().heads, (a_need("n1"),), booked=frozen, step_min=30)
    done, without = seated(problem, nameless(at(0, 9.5)))
    assert done == () and [place.need for place in without] == ["n1"]


def test_the_search_goes_back_when_the_first_choice_leads_nowhere():
    # Bench 1 would suit the first session, but the second can only have bench 1.
    closed = Bench("b2", "b2", (hours(0, 10, 12),))
    room = Room("r0", "Room A", OPEN, (Bench("b1", "b1"), closed))
    needs = (a_need("n1"), a_need("n2", student="noor"))
    problem = one_bench(
        rooms=(room,), heads=(Head("h1", "1", 2), Head("h2", "2", 2)), needs=needs, step_min=30
    )
    done, without = seated(problem, nameless(at(0, 9), at(0, 9.5, need="n2")))
    assert without == () and {place.need: place.bench for place in done} == {"n1": "b2", "n2": "b1"}


@pytest.mark.parametrize("count", [3, 40])
def test_as_many_benches_as_overlap_are_enough(count):
    spans = [
        Span(hours(0, 9, 10).start + 2 * nth, hours(0, 9, 10).start + 2 * nth + 60) for nth in range(count)
    ]
    most = max(sum(a.start <= b.start < a.end for a in spans) for b in spans)
    needs = tuple(a_need(f"n{nth}", kind="live") for nth in range(count))
    problem = school([f"b{nth}" for nth in range(most)], (), needs)
    places = [at(0, 9, need=f"n{nth}", span=span) for nth, span in enumerate(spans)]
    done, without = seated(problem, nameless(*places))
    assert len(done) == count and without == ()

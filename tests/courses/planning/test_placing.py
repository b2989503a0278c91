"""From candidates to places with names."""

import numpy as np

from courses.planning.placing import forbid, named_places, places_of, seat, worth
from courses.planning.tables import settle, tables_of
from tests.courses.planning.schools import a_need, booking, hours, one_bench


def taken(tables, *seats):
    mask = np.zeros(len(tables.found), bool)
    mask[list(seats)] = True
    return mask


def test_a_candidate_becomes_a_place_with_bench_and_head():
    tables = tables_of(one_bench())
    [place] = named_places(tables, taken(tables, 4))
    assert (place.need, place.span, place.educator) == ("n1", hours(1, 10, 11), "ines")
    assert (place.room, place.bench, place.head, place.booked) == ("r0", "b1", "h1", None)


def test_a_booking_that_does_not_stay_moves_to_the_first_new_place_of_its_need():
    need = a_need("n1", sessions=2, least_days=1)
    tables = tables_of(one_bench(needs=(need,), booked=(booking(3, 9, code="late"),)))
    first, second = named_places(tables, taken(tables, 0, 4))
    assert (first.booked, second.booked) == ("late", None)


def test_a_booking_that_stays_is_not_moved():
    need = a_need("n1", sessions=2, least_days=1)
    tables = tables_of(one_bench(needs=(need,), booked=(booking(1, 9, code="stays"),)))
    places = named_places(tables, taken(tables, 0, 3))
    assert [place.booked for place in places] == [None, "stays"]


def test_two_on_one_bench_cannot_both_be_seated():
    tables = tables_of(one_bench(needs=(a_need("n1"), a_need("n2", student="noor"))))
    kept, lost = seat(tables, taken(tables, 0, 6))
    assert (np.flatnonzero(kept).tolist(), np.flatnonzero(lost).tolist()) == ([0], [6])


def test_worth_is_that_of_the_places():
    tables = tables_of(one_bench(needs=(a_need("n1", priority=3),)))
    assert worth(tables, taken(tables, 0)) == 300 and len(places_of(tables, taken(tables, 0))) == 1


def test_what_is_forbidden_can_stand_without_one_of_them():
    tables = tables_of(one_bench(needs=(a_need("n1"), a_need("n2", student="noor"))))
    barred = forbid(tables, taken(tables, 0, 7), taken(tables, 7))
    assert not settle(barred, taken(tables, 0), np.array([False, True])).open[7]
    assert settle(barred, taken(tables, 1), np.array([False, True])).open[8]

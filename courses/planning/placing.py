"""From candidates taken to places with names, and what they are worth."""

from dataclasses import replace

import numpy as np

from courses.planning.candidates import Mask
from courses.planning.objective import value_of
from courses.planning.problem import Booked, Place, Span
from courses.planning.rows import Row
from courses.planning.seating import seated
from courses.planning.tables import Tables, with_row


def places_of(tables: Tables, taken: Mask) -> list[Place]:
    """Without bench and head; a place where a booking stays carries the booking's code."""
    found, problem = tables.found, tables.problem
    return [
        Place(
            need=problem.needs[found.need[seat]].code,
            span=Span(int(found.start[seat]), int(found.end[seat])),
            educator=problem.educators[found.educator[seat]].code,
            room=problem.rooms[found.room[seat]].code,
            bench="",
            booked=found.stays[seat],
        )
        for seat in np.flatnonzero(taken).tolist()
    ]


def worth(tables: Tables, taken: Mask) -> int:
    return value_of(tables.problem, places_of(tables, taken)).total


def seat(tables: Tables, taken: Mask) -> tuple[Mask, Mask]:
    """The candidates taken that get a bench and a head, and those that do not."""
    places = places_of(tables, taken)
    _, without = seated(tables.problem, places)
    names = {_name(place): nth for place, nth in zip(places, np.flatnonzero(taken).tolist(), strict=True)}
    lost = np.zeros(len(taken), bool)
    lost[[names[_name(place)] for place in without]] = True
    return taken & ~lost, lost


def named_places(tables: Tables, taken: Mask) -> tuple[Place, ...]:
    """With bench and head, and with the booking that moves to each place of its need, the earliest first."""
    places, _ = seated(tables.problem, places_of(tables, taken))
    staying = {place.booked for place in places}
    moving = sorted((each for each in tables.problem.movable if each.code not in staying), key=_when)
    done = []
    for place in sorted(places, key=lambda each: each.span):
        booking = next((each for each in moving if each.need == place.need), None)
        if place.booked is None and booking is not None:
            moving.remove(booking)
            done.append(replace(place, booked=booking.code))
        else:
            done.append(place)
    return tuple(sorted(done, key=lambda each: (each.span, each.need)))


def forbid(tables: Tables, taken: Mask, lost: Mask) -> Tables:
    """The same rules, and one more: what stands together on the days of the lost ones may not again."""
    for day in np.unique(tables.found.day[lost]):
        members = np.flatnonzero(taken & (tables.found.day == day))
        tables = with_row(tables, Row(members, len(members) - 1))
    return tables


def _name(place: Place) -> tuple[str, Span, str, str]:
    return place.need, place.span, place.educator, place.room


def _when(booking: Booked) -> tuple[Span, str]:
    return booking.span, booking.code

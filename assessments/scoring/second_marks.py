"""Which sets get a blind second mark, and from whom: a chance nobody can steer and all can check."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from hashlib import sha256
from hmac import digest

from assessments.scoring.evidence import ScoringInputError

_PLACES = 2**64


@dataclass(frozen=True, slots=True)
class SecondMark:
    """`marker` is None when nobody but the first marker is there; `words` then says what to do."""

    set_uid: str
    marker: str | None
    words: str


def is_chosen(set_uid: str, *, rate: float, seed: str) -> bool:
    """True for a share `rate`, 0..1, of all sets, each by its own draw.

    The draw is the HMAC-SHA-256 (RFC 2104, FIPS 180-4) of the set's uid under the academy's secret `seed`:
    the same for ever, unknown before to whoever marks, and open to a later check. Raising the rate adds sets
    and drops none.
    """
    if not 0 <= rate <= 1:
        raise ScoringInputError("rate_out_of_range", f"The rate is {rate:g}. Give a share from 0 to 1.")
    return _draw(f"set/{set_uid}", seed) < rate * _PLACES


def choose_marker(set_uid: str, *, first_marker: str, waiting: Mapping[str, int], seed: str) -> SecondMark:
    """The educator for a blind second mark, never the first marker.

    `waiting`: second marks already given or waiting, by educator who may mark. The least loaded gets it; a
    draw like the one above decides between equals.
    """
    if any(count < 0 for count in waiting.values()):
        raise ScoringInputError("negative_count", "A number of waiting marks cannot be below zero.")
    others = [name for name in waiting if name != first_marker]
    if not others:
        return SecondMark(
            set_uid, None, "No other educator can give a second mark. Add one, or lower the rate to 0."
        )
    marker = min(others, key=lambda name: (waiting[name], _draw(f"{set_uid}/{name}", seed), name))
    return SecondMark(set_uid, marker, "Chosen by chance for a blind second mark.")


def choose_second_marks(
    marked: Sequence[tuple[str, str]], *, rate: float, waiting: Mapping[str, int], seed: str
) -> tuple[SecondMark, ...]:
    """Second marks for the chosen ones of `marked` (set uid, first marker), the load kept level as they go.

    The order in which sets are listed changes nothing: they are taken in the order of their draw.
    """
    load, found = dict(waiting), []
    chosen = [pair for pair in marked if is_chosen(pair[0], rate=rate, seed=seed)]
    for set_uid, first_marker in sorted(chosen, key=lambda pair: (_draw(f"set/{pair[0]}", seed), pair[0])):
        second = choose_marker(set_uid, first_marker=first_marker, waiting=load, seed=seed)
        if second.marker is not None:
            load[second.marker] += 1
        found.append(second)
    return tuple(found)


def _draw(text: str, seed: str) -> int:
    """0 .. 2^64 - 1, even."""
    if not seed:
        raise ScoringInputError("no_seed", "The academy has no secret for its draws. Set one.")
    return int.from_bytes(digest(seed.encode(), text.encode(), sha256)[:8], "big")

"""Whether the gate to live models is shut, waited for or open: from conditions, signatures and time."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

SHUT, REACHED, OPEN, LAPSED = "shut", "reached", "open", "lapsed"
WAITING_FOR_STUDENT, WAITING_FOR_EDUCATOR = "waiting_for_student", "waiting_for_educator"
STUDENT, EDUCATOR = "student", "educator"


@dataclass(frozen=True, slots=True)
class Signed:
    """One signature not used up by an opening; `basis` tells the rows that it rests on."""

    side: str
    at: datetime
    basis: str


@dataclass(frozen=True, slots=True)
class Opened:
    """The newest opening. `ended`: why it is over, empty while it is not: lapse, conditions or by_hand."""

    at: datetime
    ended: str = ""


def lapses_at(graded: Sequence[datetime], lapse_days: int) -> datetime | None:
    """When a gate that is open now will lapse if no set is graded; None without any graded set."""
    return max(graded) + timedelta(days=lapse_days) if graded else None


def lapsed_at(
    opened: datetime, graded: Sequence[datetime], lapse_days: int, *, now: datetime
) -> datetime | None:
    """When a gate opened at `opened` lapsed: the end of the first pause of `lapse_days` without a graded set.

    A set graded after the pause does not mend it, so it does not matter when somebody looks.
    """
    pause = timedelta(days=lapse_days)
    last = max((at for at in graded if at <= opened), default=opened)
    for at in (*sorted(at for at in graded if opened < at <= now), now):
        if at - last >= pause:
            return last + pause
        last = at
    return None


def standing_signatures(signatures: Sequence[Signed], basis: str) -> frozenset[str]:
    """Sides whose newest signature rests on what stands now; anything else has to be signed again."""
    newest = {each.side: each for each in sorted(signatures, key=lambda each: each.at)}
    return frozenset(side for side, each in newest.items() if each.basis == basis)


def gate_state(*, met: bool, sides: frozenset[str], opened: Opened | None) -> str:
    """`met`: every condition of the gate stands now; `sides`: who has signed what stands now."""
    if opened and not opened.ended:
        return OPEN if met else SHUT
    if not met:
        return LAPSED if opened and opened.ended == "lapse" else SHUT
    if STUDENT in sides:
        return WAITING_FOR_EDUCATOR
    return WAITING_FOR_STUDENT if EDUCATOR in sides else REACHED

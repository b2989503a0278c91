"""The ladder of retests after a success: each one passed leads to the next, longer wait."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta

WINDOW_DAYS = 7  # a set so many days before a retest is due may stand for it


@dataclass(frozen=True, slots=True)
class Retest:
    """The next retest: `days` after the success of `since`."""

    since: date
    days: int

    @property
    def due_on(self) -> date:
        return self.since + timedelta(days=self.days)

    @property
    def opens_on(self) -> date:
        """From here on a set counts as the retest: a quarter of the wait before, a week at most."""
        return self.due_on - timedelta(days=min(WINDOW_DAYS, self.days // 4))


def next_retest(results: Sequence[tuple[date, bool]], waits: Sequence[int]) -> Retest | None:
    """`results`: (day, whether it succeeded), oldest first; `waits` in days, rising.

    The first success begins the ladder, and a failure ends it; a success in the window of a retest passes it.
    None before a success, and once all are passed.
    """
    since: date | None = None
    step = 0
    for day, is_success in results:
        if not is_success:
            since = None
        elif since is None:
            since, step = day, 0
        else:
            while step < len(waits) and day >= Retest(since, waits[step]).opens_on:
                step += 1
    return Retest(since, waits[step]) if since is not None and step < len(waits) else None

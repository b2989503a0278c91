"""How long each fan may take when a set is to end in its target time."""

from fractions import Fraction


def seconds_per_fan(minutes: int, fans: int) -> Fraction:
    """Seconds a fan, exactly: 300 min for 160 fans is 225/2 = 112.5 s."""
    if minutes < 1 or fans < 1:
        raise ValueError("A pace needs at least 1 minute and 1 fan.")
    return Fraction(60 * minutes, fans)

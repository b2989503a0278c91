"""How long each fan may take when a set is to end in its target time."""

from decimal import ROUND_HALF_UP, Decimal
from fractions import Fraction


def seconds_per_fan(minutes: int, fans: int) -> Fraction:
    """Seconds a fan, exactly: 300 min for 160 fans is 225/2, that is 112.5 s."""
    if minutes < 1 or fans < 1:
        raise ValueError("A pace needs at least 1 minute and 1 fan.")
    return Fraction(60 * minutes, fans)


def pace_words(minutes: int, fans: int) -> str:
    """The arithmetic of a pace, to hundredths of a second; a half goes up."""
    exact = seconds_per_fan(minutes, fans)
    ratio = Decimal(exact.numerator) / exact.denominator
    seconds = ratio.quantize(Decimal("0.01"), ROUND_HALF_UP)
    sign = "=" if Fraction(seconds) == exact else "≈"
    return f"{minutes} min × 60 ÷ {fans} fans {sign} {seconds.normalize():f} s a fan"

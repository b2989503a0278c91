"""Shares and counts as people read them."""


def percent(share: float) -> str:
    """A share to a tenth of a percent, never a false 0 or 100 %."""
    if 0 < share < 0.0005:
        return "less than 0.1 %"
    if 0.9995 < share < 1:
        return "more than 99.9 %"
    return f"{100 * share:.1f}".removesuffix(".0") + " %"


def rate_words(share: float) -> str:
    """A rate as someone set it: 0.2 is 20 %, 0.0125 is 1.25 %."""
    return f"{100 * share:g} %"


def counted(count: int, noun: str) -> str:
    """1 set, 2 sets."""
    return f"{count} {noun}" if count == 1 else f"{count} {noun}s"

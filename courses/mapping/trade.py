"""What the trade sells: common practice, no source. A programme may list fewer or more."""

from dataclasses import dataclass

# In hundredths of a millimetre.
DIAMETERS = (3, 4, 5, 6, 7, 8, 10, 12, 15, 18, 20, 25)
# Curl letters have no standard geometry: they differ between makers.
CURLS = ("J", "B", "C", "CC", "D", "DD", "L", "LC", "M", "U")


@dataclass(frozen=True, slots=True)
class TradeList:
    diameters_hundredths: tuple[int, ...] = DIAMETERS
    curls: tuple[str, ...] = CURLS

    @property
    def diameter_words(self) -> str:
        return ", ".join(millimetres(each) for each in self.diameters_hundredths) + " mm"


def millimetres(diameter_hundredths: int) -> str:
    """0.07 for 7, as the trade writes a diameter."""
    return f"{diameter_hundredths // 100}.{diameter_hundredths % 100:02d}"

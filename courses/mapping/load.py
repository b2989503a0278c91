"""How heavy a fan is beside one reference extension of the same length and shape.

Equal length and shape: n filaments of diameter d weigh as much as one of diameter D when n·d² = D²
(mass of a cylinder goes with the square of its diameter). Diameters are whole hundredths of a millimetre:
in floating point 0.15² / 0.05² is 8.999999999999998 and would lose a filament.
A relative load says nothing about what a natural lash can carry; a programme's limit is lower.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from math import pi

# Polybutylene terephthalate, the usual filament: 1.30 to 1.31 g/cm³ on material data sheets (ASTM D792).
PBT_DENSITY_MG_MM3 = 1.31


@dataclass(frozen=True, slots=True)
class LoadRuling:
    """A fan beside both limits: what the arithmetic allows and what the programme allows, where it says."""

    filaments: int
    percent: int
    arithmetic_ceiling: int
    programme_limit: int | None

    @property
    def most(self) -> int:
        """The limit that rules: the lower one."""
        if self.programme_limit is None:
            return self.arithmetic_ceiling
        return min(self.arithmetic_ceiling, self.programme_limit)

    @property
    def is_programme_ruling(self) -> bool:
        return self.programme_limit is not None and self.programme_limit < self.arithmetic_ceiling

    @property
    def over_by(self) -> int:
        """Filaments too many, 0 when within the limit."""
        return max(0, self.filaments - self.most)


def max_filaments(diameter_hundredths: int, reference_hundredths: int = 15) -> int:
    """The most filaments that together weigh no more than one reference extension."""
    _check(diameter_hundredths, reference_hundredths)
    return int(reference_hundredths**2 // diameter_hundredths**2)


def load_percent(filaments: int, diameter_hundredths: int, reference_hundredths: int = 15) -> int:
    """Relative load in whole per cent of the reference extension; a half goes up."""
    _check(diameter_hundredths, reference_hundredths)
    if filaments < 0:
        raise ValueError(f"A fan cannot have {filaments} filaments. Give 0 or more.")
    reference = reference_hundredths**2
    return int((200 * filaments * diameter_hundredths**2 + reference) // (2 * reference))


def mixed_load_percent(
    filaments: int,
    diameter_hundredths: int,
    lengths: Mapping[int, int],
    *,
    reference_hundredths: int = 15,
    reference_mm: int,
) -> int:
    """Relative load of fans of mixed lengths, on average, beside a reference extension ``reference_mm`` long.

    ``lengths``: fans, or shares of them, by length in mm. Compares n·d²·L; a half goes up.
    Real filaments taper, and the ratio holds for like shapes only.
    """
    _check(diameter_hundredths, reference_hundredths)
    fans = sum(lengths.values())
    if filaments < 0 or reference_mm < 1 or fans < 1 or min(lengths) < 1 or min(lengths.values()) < 0:
        raise ValueError("A load needs 0 or more filaments, lengths of 1 mm and more, and at least 1 fan.")
    length_mm = sum(length * count for length, count in lengths.items())
    load = filaments * diameter_hundredths**2 * length_mm
    reference = reference_hundredths**2 * reference_mm * fans
    return int((200 * load + reference) // (2 * reference))


def rule_load(
    filaments: int,
    diameter_hundredths: int,
    *,
    reference_hundredths: int = 15,
    programme_limit: int | None = None,
) -> LoadRuling:
    return LoadRuling(
        filaments=filaments,
        percent=load_percent(filaments, diameter_hundredths, reference_hundredths),
        arithmetic_ceiling=max_filaments(diameter_hundredths, reference_hundredths),
        programme_limit=programme_limit,
    )


def filament_mass_mg(
    filaments: int,
    diameter_hundredths: int,
    length_mm: float,
    density_mg_mm3: float = PBT_DENSITY_MG_MM3,
) -> float:
    """Mass of so many equal cylinders, n·ρ·π/4·d²·L.

    Overstates real filaments, which taper: a pure cone has a third of the cylinder's mass.
    """
    _check(diameter_hundredths)
    return filaments * density_mg_mm3 * pi / 4 * (diameter_hundredths / 100) ** 2 * length_mm


def _check(*diameters: int) -> None:
    for hundredths in diameters:
        if hundredths < 1:
            raise ValueError(f"A diameter of {hundredths} hundredths of a millimetre is not possible.")

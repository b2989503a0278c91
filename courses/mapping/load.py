"""How heavy a fan is beside one reference extension of the same length and shape.

Equal length and shape: n filaments of diameter d weigh as much as one of diameter D when n·d² = D²
(mass of a cylinder goes with the square of its diameter). Diameters are whole hundredths of a millimetre:
in floating point 0.15² / 0.05² is 8.999999999999998 and would lose a filament.
A relative load says nothing about what a natural lash can carry; a programme's limit is lower.
"""


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


def _check(*diameters: int) -> None:
    for hundredths in diameters:
        if hundredths < 1:
            raise ValueError(f"A diameter of {hundredths} hundredths of a millimetre is not possible.")

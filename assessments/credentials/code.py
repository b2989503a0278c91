"""The code printed on a certificate: 60 random bits in 12 symbols that people do not mix up."""

ALPHABET = "0123456789ABCDEFGHJKMNPQRSTVWXYZ"  # without I, L, O and U
SYMBOLS = 12
GROUP = 4
RANDOM_BYTES = 8
_BITS = 5
_AS_READ = str.maketrans("ILO", "110")
_BETWEEN = str.maketrans("", "", "-‐‑–— \t")


def code_from(random: bytes) -> str:
    """12 symbols of the alphabet, each equally likely; ``random`` is RANDOM_BYTES of a secret source."""
    if len(random) != RANDOM_BYTES:
        raise ValueError(f"A code is made from {RANDOM_BYTES} random bytes, not {len(random)}.")
    number = int.from_bytes(random, "big")
    return "".join(ALPHABET[number >> _BITS * place & 31] for place in reversed(range(SYMBOLS)))


def normalise(text: str) -> str | None:
    """The code somebody typed or scanned, in its one spelling; None when it cannot be a code.

    Groups, case and the letters that look like 1 and 0 are forgiven.
    """
    if len(text) > 4 * SYMBOLS:
        return None
    code = text.strip().translate(_BETWEEN).upper().translate(_AS_READ)
    return code if len(code) == SYMBOLS and set(code) <= set(ALPHABET) else None


def grouped(code: str) -> str:
    """As it is printed: three groups of four."""
    return "-".join(code[start : start + GROUP] for start in range(0, SYMBOLS, GROUP))

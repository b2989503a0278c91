"""A signing key for an academy in a test: made once for all tests, because making one takes a while."""

from functools import cache

from django.conf import settings

from academy.signing_keys import SigningKey, make_key, newest_key

_SPARE = 0


def lend_key(academy_id: int) -> SigningKey:
    """The academy's newest key from now on."""
    folder = settings.KEYS_DIR / str(academy_id)
    folder.mkdir(mode=0o700, parents=True, exist_ok=True)
    path = folder / f"{len(list(folder.iterdir())) + 1:04}.pem"
    path.touch(mode=0o600)
    path.write_bytes(_spare_pem())
    return newest_key(academy_id)


@cache
def _spare_pem() -> bytes:
    make_key(_SPARE)
    return (settings.KEYS_DIR / str(_SPARE) / "0001.pem").read_bytes()

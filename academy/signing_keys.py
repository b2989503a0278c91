"""The one door to signing keys: encrypted files outside the database, added to and never replaced."""

import os
from functools import lru_cache
from pathlib import Path
from typing import TypeAlias

from cryptography.hazmat.primitives.asymmetric.rsa import RSAPrivateKey, generate_private_key
from cryptography.hazmat.primitives.serialization import (
    BestAvailableEncryption,
    Encoding,
    PrivateFormat,
    load_pem_private_key,
)
from django.conf import settings

from academy.errors import DomainError

SigningKey: TypeAlias = RSAPrivateKey
KEY_BITS = 3072
EXPONENT = 65_537


class NoSigningKey(DomainError):
    """Nothing can be signed for an academy that has no key yet."""

    def __init__(self, academy_id: int) -> None:
        super().__init__(
            "no_signing_key",
            "Certificates of this school cannot be signed yet. Ask whoever runs this server to make its key: "
            f"manage.py signing_keys make --academy {academy_id}",
        )


class KeyUnreadable(DomainError):
    """The file is there but does not open: mostly the passphrase is another one."""

    def __init__(self, path: Path) -> None:
        super().__init__(
            "key_unreadable",
            f"The signing key {path.parent.name}/{path.name} cannot be opened. Set FANLIGHT_KEYS_PASSPHRASE "
            "to the passphrase it was made with, or bring the file back from a backup.",
        )


def make_key(academy_id: int) -> SigningKey:
    """A new key for the academy, kept encrypted; from now on it signs. Earlier ones stay.

    Two at the same instant get two files: a name that is taken is never written over.
    """
    key = generate_private_key(public_exponent=EXPONENT, key_size=KEY_BITS)
    encryption = BestAvailableEncryption(settings.KEYS_PASSPHRASE.encode())
    pem = key.private_bytes(Encoding.PEM, PrivateFormat.PKCS8, encryption)
    folder = _folder(academy_id)
    folder.mkdir(mode=0o700, parents=True, exist_ok=True)
    files = _files(academy_id)
    number = int(files[-1].stem) + 1 if files else 1
    while not _written(folder / f"{number:04}.pem", pem):
        number += 1
    return key


def newest_key(academy_id: int) -> SigningKey:
    """The key that signs now; NoSigningKey when none was made."""
    files = _files(academy_id)
    if not files:
        raise NoSigningKey(academy_id)
    return _open(files[-1])


def all_keys(academy_id: int) -> list[SigningKey]:
    """Every key made for the academy, oldest first."""
    return [_open(path) for path in _files(academy_id)]


def exposed_files() -> list[Path]:
    """Key files and folders that other accounts of this machine may enter or read."""
    kept = [Path(settings.KEYS_DIR), *Path(settings.KEYS_DIR).glob("*"), *Path(settings.KEYS_DIR).glob("*/*")]
    return [path for path in kept if path.exists() and path.stat().st_mode & 0o077]


def _folder(academy_id: int) -> Path:
    return Path(settings.KEYS_DIR) / str(academy_id)


def _files(academy_id: int) -> list[Path]:
    return sorted(_folder(academy_id).glob("[0-9][0-9][0-9][0-9].pem"))


def _written(path: Path, pem: bytes) -> bool:
    """Whether the file is new; it appears under its name only once it is whole."""
    draft = path.with_name(f".{path.name}.{os.getpid()}")
    with open(os.open(draft, os.O_WRONLY | os.O_CREAT | os.O_TRUNC, 0o600), "wb") as file:
        file.write(pem)
        file.flush()
        os.fsync(file.fileno())
    try:
        os.link(draft, path)
    except FileExistsError:
        return False
    finally:
        draft.unlink()
    return True


def _open(path: Path) -> SigningKey:
    try:
        return _opened(path, path.stat().st_mtime_ns, settings.KEYS_PASSPHRASE)
    except (OSError, ValueError, TypeError) as error:
        raise KeyUnreadable(path) from error


@lru_cache(maxsize=256)
def _opened(path: Path, _changed: int, passphrase: str) -> SigningKey:
    """Kept in memory: unlocking and checking a file takes far longer than signing."""
    key = load_pem_private_key(path.read_bytes(), passphrase.encode())
    if not isinstance(key, RSAPrivateKey) or key.key_size < KEY_BITS:
        raise ValueError(f"An RSA key of {KEY_BITS} bits or more is needed.")
    return key

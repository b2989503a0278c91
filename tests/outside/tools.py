"""Programs of other people that the tests need, and scripts that stand on packages of npm."""

import fcntl
import json
import shutil
import subprocess
from collections.abc import Mapping
from pathlib import Path
from typing import Any

import pytest

from tests.services.worker import ROOT

DEBIAN_PACKAGES = {
    "node": "nodejs",
    "npm": "npm",
    "openssl": "openssl",
    "pngcheck": "pngcheck",
    "exiftool": "libimage-exiftool-perl",
    "qpdf": "qpdf",
    "zbarimg": "zbar-tools",
}
SOURCE = Path(__file__).parent
INSTALLED = ROOT / ".test" / "outside"
LISTS = ("package.json", "package-lock.json")


def tool(name: str) -> str:
    """Path of the program; a test that needs one fails when there is none."""
    path = shutil.which(name)
    if not path:
        pytest.fail(f"No {name}: run `apt-get install {DEBIAN_PACKAGES[name]}`.")
    return path


def said_by(name: str, *arguments: str | Path, stdin: bytes = b"") -> bytes:
    """What the program answers; the test fails with its words when it finds fault."""
    command = [tool(name), *map(str, arguments)]
    done = subprocess.run(command, input=stdin, capture_output=True, check=False)
    if done.returncode:
        words = (done.stdout + done.stderr).decode(errors="replace").strip()
        pytest.fail(f"{name}: {words}", pytrace=False)
    return done.stdout


def verdict(question: Mapping[str, Any]) -> dict[str, Any]:
    """What verify.mjs finds; `question`: {token, lists, jwks, issuer, at}. No connection is opened."""
    return answer_of("verify.mjs", question)


def answer_of(script: str, question: Mapping[str, Any]) -> dict[str, Any]:
    """What a script beside the installed packages answers."""
    _install()
    answer: dict[str, Any] = json.loads(
        said_by("node", INSTALLED / script, stdin=json.dumps(question).encode())
    )
    return answer


def _install() -> None:
    """The locked packages beside copies of the scripts; once, again when the lock changes."""
    INSTALLED.mkdir(parents=True, exist_ok=True)
    with (INSTALLED / ".lock").open("w") as lock:
        fcntl.flock(lock, fcntl.LOCK_EX)  # several workers may ask at once
        if not _is_current():
            for name in LISTS:
                shutil.copy(SOURCE / name, INSTALLED)
            said_by("npm", "ci", "--prefix", INSTALLED, "--ignore-scripts", "--no-audit", "--no-fund")
        for script in SOURCE.glob("*.mjs"):
            shutil.copy(script, INSTALLED)


def _is_current() -> bool:
    """npm leaves its own list of what it installed, as its last act."""
    if not (INSTALLED / "node_modules" / ".package-lock.json").exists():
        return False
    return all((INSTALLED / name).read_bytes() == (SOURCE / name).read_bytes() for name in LISTS)

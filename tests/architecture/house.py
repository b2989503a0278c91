"""Where the source is, for the tests that read it."""

import os
import subprocess
from collections.abc import Iterator
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent.parent
APPS = ("academy", "courses", "assessments")
PURE = (
    *("courses/mapping", "courses/programme", "courses/planning"),
    *("assessments/scoring", "assessments/skill", "assessments/imaging", "assessments/credentials"),
)


def python_files(*folders: str) -> Iterator[Path]:
    """Python files below the folders, migrations left out: Django writes those."""
    for folder in folders:
        for path in sorted((ROOT / folder).rglob("*.py")):
            if "migrations" not in path.parts:
                yield path


def app_templates() -> list[Path]:
    return sorted(path for path in (ROOT / "templates").rglob("*") if path.suffix in {".html", ".txt"})


def repository_files() -> list[Path]:
    """Every file that is in the repository or about to be."""
    command = ["git", "ls-files", "--cached", "--others", "--exclude-standard", "-z"]
    environment = {**os.environ, "GIT_CONFIG_COUNT": "1", "GIT_CONFIG_KEY_0": "safe.directory"}
    environment["GIT_CONFIG_VALUE_0"] = str(ROOT)  # a checkout that belongs to another account is fine
    listing = subprocess.run(command, cwd=ROOT, env=environment, capture_output=True, text=True, check=True)
    return [path for name in listing.stdout.split("\0") if name and (path := ROOT / name).is_file()]


def text_of(path: Path) -> str | None:
    """Text of a file, or None when it holds something else."""
    try:
        return path.read_text(encoding="utf-8")
    except UnicodeDecodeError:
        return None


def short(path: Path) -> str:
    return path.relative_to(ROOT).as_posix()

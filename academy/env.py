"""Typed readers of the environment: a setting is right, or the process refuses to start and says why."""

import os
from pathlib import Path
from secrets import token_urlsafe

SECRET_LENGTH = 32  # characters at least


class EnvironmentProblem(RuntimeError):
    """The environment holds a value that cannot be used, or lacks one that is needed."""


def env_str(name: str, default: str) -> str:
    return os.environ.get(name, default)


def env_list(name: str, default: str) -> list[str]:
    """Comma-separated values; blanks are dropped."""
    return [part.strip() for part in env_str(name, default).split(",") if part.strip()]


def env_bool(name: str, default: bool) -> bool:
    raw = os.environ.get(name, "").strip().lower()
    if not raw:
        return default
    if raw in {"1", "true", "yes", "on"}:
        return True
    if raw in {"0", "false", "no", "off"}:
        return False
    raise EnvironmentProblem(f"{name} is {raw!r}. Use 1 or 0.")


def env_int(name: str, default: int, *, minimum: int, maximum: int) -> int:
    raw = os.environ.get(name, "").strip()
    if not raw:
        return default
    try:
        value = int(raw)
    except ValueError as error:
        raise EnvironmentProblem(f"{name} is {raw!r}. Use a whole number.") from error
    if not minimum <= value <= maximum:
        raise EnvironmentProblem(f"{name} is {value}. Use a number from {minimum} to {maximum}.")
    return value


def env_secret(name: str) -> str:
    """A secret that must be given from outside; at least 32 characters."""
    value = os.environ.get(name, "")
    if len(value) < SECRET_LENGTH:
        raise EnvironmentProblem(
            f"{name} is missing or shorter than {SECRET_LENGTH} characters. Set it before starting."
        )
    return value


def env_secrets(name: str) -> list[str]:
    """Secrets that may be given from outside, comma-separated; each at least 32 characters."""
    values = env_list(name, "")
    if any(len(value) < SECRET_LENGTH for value in values):
        raise EnvironmentProblem(f"{name} has a secret shorter than {SECRET_LENGTH} characters. Lengthen it.")
    return values


def kept_secret(path: Path) -> str:
    """The demo's secret: made once and kept in a file that only this user can read."""
    if not path.exists():
        path.parent.mkdir(parents=True, exist_ok=True)
        path.touch(mode=0o600)
        path.write_text(token_urlsafe(48))
    return path.read_text()

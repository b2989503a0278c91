"""A setting is right, or the process refuses to start and says which one and why."""

import stat

import pytest

from academy.env import (
    EnvironmentProblem,
    env_bool,
    env_int,
    env_list,
    env_secret,
    env_secrets,
    env_str,
    kept_secret,
)

NAME = "FANLIGHT_UNDER_TEST"


@pytest.mark.parametrize(
    ("raw", "value"), [("1", True), ("Yes", True), (" on ", True), ("0", False), ("FALSE", False)]
)
def test_yes_and_no_are_read_in_their_usual_spellings(monkeypatch, raw, value):
    monkeypatch.setenv(NAME, raw)
    assert env_bool(NAME, not value) is value


@pytest.mark.parametrize("raw", ["", "  "])
def test_nothing_means_the_default(monkeypatch, raw):
    monkeypatch.setenv(NAME, raw)
    assert env_bool(NAME, True) is True
    assert env_int(NAME, 7, minimum=1, maximum=9) == 7


@pytest.mark.parametrize("raw", ["maybe", "2", "y", "tru"])
def test_neither_yes_nor_no_stops_the_process(monkeypatch, raw):
    monkeypatch.setenv(NAME, raw)
    with pytest.raises(EnvironmentProblem, match=f"{NAME} is .* Use 1 or 0"):
        env_bool(NAME, True)


@pytest.mark.parametrize("raw", ["many", "1.5", "--3", "0", "10", "-1", "²"])
def test_a_number_that_cannot_be_stops_the_process(monkeypatch, raw):
    monkeypatch.setenv(NAME, raw)
    with pytest.raises(EnvironmentProblem, match=NAME):
        env_int(NAME, 7, minimum=1, maximum=9)


def test_a_number_within_its_bounds_is_taken(monkeypatch):
    monkeypatch.setenv(NAME, " 9 ")
    assert env_int(NAME, 7, minimum=1, maximum=9) == 9


def test_a_list_drops_blanks(monkeypatch):
    monkeypatch.setenv(NAME, " a.example, ,b.example,")
    assert env_list(NAME, "") == ["a.example", "b.example"]
    assert env_str(NAME + "_2", "x") == "x"


@pytest.mark.parametrize("raw", ["", "x" * 31])
def test_a_secret_is_never_made_up_nor_short(monkeypatch, raw):
    monkeypatch.setenv(NAME, raw)
    with pytest.raises(EnvironmentProblem, match="shorter than 32 characters"):
        env_secret(NAME)


def test_optional_secrets_may_be_none_or_several_but_never_short(monkeypatch):
    assert env_secrets(NAME) == []
    monkeypatch.setenv(NAME, f"{'a' * 32}, {'b' * 40}")
    assert env_secrets(NAME) == ["a" * 32, "b" * 40]
    monkeypatch.setenv(NAME, f"{'a' * 32}, short")
    with pytest.raises(EnvironmentProblem, match="Lengthen it"):
        env_secrets(NAME)


def test_a_refusal_never_shows_the_secret(monkeypatch):
    monkeypatch.setenv(NAME, "hunter2")
    with pytest.raises(EnvironmentProblem) as problem:
        env_secret(NAME)
    assert "hunter2" not in str(problem.value)


def test_the_demos_secret_is_made_once_and_only_its_owner_reads_it(tmp_path):
    path = tmp_path / "new" / "secret_key"
    first = kept_secret(path)
    assert len(first) >= 64 and kept_secret(path) == first
    assert stat.S_IMODE(path.stat().st_mode) == 0o600

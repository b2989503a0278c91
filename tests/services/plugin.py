"""Brings PostgreSQL and Valkey up before Django reads its settings, and down when the run ends."""

import contextlib
import os
import signal
import threading
from collections.abc import Iterable

import pytest

from tests.services import servers

PYTEST_XDIST_WORKER = "PYTEST_XDIST_WORKER"
DESELECTED = pytest.StashKey[int]()
STARTERS = {"DATABASE_URL": servers.postgres, "REDIS_URL": servers.valkey}


def pytest_addoption(parser: pytest.Parser) -> None:
    parser.addoption(
        "--embedded",
        action="store_true",
        help="run on the embedded default (SQLite, tasks in-process) and leave out tests marked `services`",
    )


@pytest.hookimpl(tryfirst=True)
def pytest_load_initial_conftests(early_config: pytest.Config) -> None:
    """Runs in the controlling process only; xdist workers inherit the environment that this leaves."""
    known = early_config.known_args_namespace
    if known.help or known.version or PYTEST_XDIST_WORKER in os.environ:
        return
    os.environ["DJANGO_ALLOW_ASYNC_UNSAFE"] = "true"  # the browser's driver keeps an event loop in our thread
    if known.embedded:
        for variable in STARTERS:
            os.environ.pop(variable, None)
        return
    _stop_cleanly_on_terminate()
    stack = contextlib.ExitStack()
    early_config.add_cleanup(stack.close)
    try:
        for variable in _missing(STARTERS):
            os.environ[variable] = stack.enter_context(STARTERS[variable]())
    except servers.ServiceUnavailable as error:
        raise pytest.UsageError(str(error)) from error


def pytest_configure(config: pytest.Config) -> None:
    config.addinivalue_line("markers", "services: needs the real services; left out by --embedded")
    config.addinivalue_line("markers", "outside: asks programs of other people, some of which npm installs")
    config.addinivalue_line("markers", "browser: drives Chromium; set by itself on tests that use `page`")


def pytest_report_header(config: pytest.Config) -> str:
    if config.getoption("embedded"):
        return "services: none (embedded: SQLite, tasks in-process)"
    return "services: " + ", ".join(f"{name}={os.environ[name]}" for name in STARTERS)


@pytest.hookimpl(tryfirst=True)
def pytest_collection_modifyitems(config: pytest.Config, items: list[pytest.Item]) -> None:
    for item in items:
        if "page" in getattr(item, "fixturenames", ()):
            item.add_marker(pytest.mark.browser)
    if not config.getoption("embedded"):
        return
    left_out = [item for item in items if item.get_closest_marker("services")]
    config.stash[DESELECTED] = len(left_out)
    config.hook.pytest_deselected(items=left_out)
    items[:] = [item for item in items if not item.get_closest_marker("services")]


def pytest_terminal_summary(terminalreporter: pytest.TerminalReporter, config: pytest.Config) -> None:
    if count := config.stash.get(DESELECTED, 0):
        line = f"{count} tests that need the real services were LEFT OUT (--embedded)"
        terminalreporter.write_sep("=", line, yellow=True, bold=True)


def _missing(variables: Iterable[str]) -> list[str]:
    return [variable for variable in variables if not os.environ.get(variable)]


def _stop_cleanly_on_terminate() -> None:
    """`timeout` and CI end a run with SIGTERM: treat it as Ctrl-C, so that no server is left behind."""
    if threading.current_thread() is threading.main_thread():
        signal.signal(signal.SIGTERM, signal.default_int_handler)

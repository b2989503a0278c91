"""A real Celery worker process, on the same database and broker as the test."""

import os
import subprocess
import sys
import time
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import pytest
from django.db import connection

from academy.celery import app
from tests.services.smtp import Postbox

START_LIMIT_S = 30
ROOT = Path(__file__).resolve().parent.parent.parent


@dataclass
class WorkerProcess:
    """``process`` may be killed by the test; ``output()`` is what the worker has written so far."""

    process: subprocess.Popen[bytes]
    log: Path

    def output(self) -> str:
        return self.log.read_text(errors="replace")


@pytest.fixture
def celery_worker_process(
    transactional_db: None, smtp_server: Postbox, tmp_path: Path
) -> Iterator[WorkerProcess]:
    """Tasks queued by the test run in a process of their own; mail they send reaches ``smtp_server``.

    The test must commit what the task is to see, hence the transactional database.
    """
    if connection.vendor != "postgresql" or not str(app.conf.broker_url).startswith("redis"):
        pytest.fail("This test needs the real services: mark it `services`, or run without --embedded.")
    app.control.purge()
    worker = _start(tmp_path / "worker.log", smtp_server)
    app.conf.task_always_eager = False
    try:
        _wait_until_ready(worker)
        yield worker
    finally:
        app.conf.task_always_eager = True
        worker.process.terminate()
        worker.process.wait()


def _start(log: Path, postbox: Postbox) -> WorkerProcess:
    command = [
        sys.executable,
        "-m",
        "celery",
        "-A",
        "academy",
        "worker",
        "--concurrency=1",
        "--loglevel=INFO",
    ]
    quiet = ["--without-gossip", "--without-mingle"]
    with log.open("wb") as output:
        process = subprocess.Popen(
            [*command, *quiet], stdout=output, stderr=subprocess.STDOUT, cwd=ROOT, env=_environment(postbox)
        )
    return WorkerProcess(process, log)


def _environment(postbox: Postbox) -> dict[str, str]:
    database = connection.settings_dict
    where = f"{database['HOST']}:{database['PORT']}/{database['NAME']}"
    return {
        **os.environ,
        "DJANGO_SETTINGS_MODULE": "academy.settings",
        "DATABASE_URL": f"postgresql://{database['USER']}:{database['PASSWORD']}@{where}",
        "REDIS_URL": str(app.conf.broker_url),
        "FANLIGHT_LOG_LEVEL": "INFO",
        "FANLIGHT_SMTP_HOST": postbox.host,
        "FANLIGHT_SMTP_PORT": str(postbox.port),
        "FANLIGHT_SMTP_TLS": "0",
    }


def _wait_until_ready(worker: WorkerProcess) -> None:
    give_up = time.monotonic() + START_LIMIT_S
    while time.monotonic() < give_up and worker.process.poll() is None:
        if " ready." in worker.output():
            return
        time.sleep(0.05)
    pytest.fail(f"The Celery worker did not start:\n{worker.output()}")

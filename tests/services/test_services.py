"""The services that the other tests stand on are the real ones."""

import os
import socket
import time

import pytest
from django.core import mail
from django.db import connection
from playwright.sync_api import Page
from redis import Redis

from academy.celery import app
from academy.mail import Letter, send
from academy.models import Role
from academy.services.invitations import invite_person
from tests.services import servers
from tests.services.browser import DESKTOP, PHONE, set_width, sideways_overflow
from tests.services.worker import WorkerProcess

pytestmark = pytest.mark.services


def letter(address: str = "ada@people.example") -> Letter:
    context = {
        "academy": "Marram Lane Lash School",
        "inviter": "Wren",
        "role": "student",
        "link": "https://a.example/",
    }
    return Letter(folder="academy/invitation", name="Ada Marsh", address=address, context=context)


@pytest.mark.django_db
def test_the_database_is_postgresql_and_knows_accented_letters():
    with connection.cursor() as cursor:
        cursor.execute("SELECT version(), lower('ÉŁ'), current_setting('server_encoding')")
        version, lowered, encoding = cursor.fetchone()
    assert version.startswith("PostgreSQL ")
    assert (lowered, encoding) == ("éł", "UTF8")


@pytest.mark.django_db
def test_each_parallel_worker_has_a_database_of_its_own():
    expected = os.environ.get("PYTEST_XDIST_WORKER", "")
    assert connection.settings_dict["NAME"].startswith("test_")
    assert connection.settings_dict["NAME"].endswith(expected)


def test_the_broker_is_a_running_server():
    with Redis.from_url(str(app.conf.broker_url)) as client:
        assert client.ping()
        assert client.info("server")["tcp_port"] == client.connection_pool.connection_kwargs["port"]


def test_mail_goes_to_a_list_in_memory_unless_a_test_asks_for_the_server():
    send(letter())
    assert [message.to for message in mail.outbox] == [["Ada Marsh <ada@people.example>"]]


def test_mail_reaches_the_smtp_server_with_both_bodies(smtp_server):
    send(letter())
    (message,) = smtp_server.wait_for(1)
    assert message["To"] == "Ada Marsh <ada@people.example>"
    assert {part.get_content_type() for part in message.walk()} >= {"text/plain", "text/html"}


def test_the_smtp_server_answers_as_it_is_told(smtp_server):
    smtp_server.replies.append("451 Try again later")
    with pytest.raises(OSError, match="Try again later"):
        send(letter())
    send(letter())
    assert (smtp_server.attempts, len(smtp_server.messages)) == (2, 1)


def test_a_task_queued_on_commit_runs_in_the_worker_process(celery_worker_process, smtp_server, cast, now):
    invite_person(
        actor=cast.owner,
        name="Dora Quill",
        email="dora@people.example",
        role=Role.STUDENT,
        cohort=None,
        now=now,
    )
    (message,) = smtp_server.wait_for(1)
    assert message["To"] == "Dora Quill <dora@people.example>"
    assert _appears(celery_worker_process, "Task academy.tasks.send_invitation[", "succeeded")


def test_tasks_run_in_this_process_again_once_the_worker_is_gone():
    assert app.conf.task_always_eager


def test_chromium_opens_a_page_at_every_width(page: Page, live_server):
    answer = page.goto(f"{live_server.url}/account/login/")
    assert answer is not None
    assert answer.status == 200
    for width in (PHONE, DESKTOP):
        set_width(page, width)
        assert page.evaluate("window.innerWidth") == width
        assert sideways_overflow(page) == 0


def test_axe_finds_a_picture_without_words(page: Page, axe):
    page.set_content('<html lang="en"><title>T</title><main><h1>T</h1><img src="data:,"></main></html>')
    with pytest.raises(pytest.fail.Exception, match="image-alt"):
        axe(page)


def test_a_stopped_server_leaves_its_port():
    with servers.valkey() as url:
        address = ("127.0.0.1", int(url.rsplit(":", 1)[1].split("/")[0]))
        socket.create_connection(address, timeout=1).close()
    with pytest.raises(ConnectionRefusedError):
        socket.create_connection(address, timeout=1)


def _appears(worker: WorkerProcess, *words: str, limit_s: float = 10) -> bool:
    """Whether one line of the worker's output comes to hold all the words."""
    give_up = time.monotonic() + limit_s
    while time.monotonic() < give_up:
        if any(all(word in line for word in words) for line in worker.output().splitlines()):
            return True
        time.sleep(0.05)
    return False

"""A page whose parts are kept, read as it is kept and as it is made anew."""

import re

from django.core.cache import caches
from django.test import Client

TOKEN = re.compile(r'name="csrfmiddlewaretoken" value="\w+"')


def shown(client: Client, url: str) -> str:
    answer = client.get(url)
    assert answer.status_code == 200
    return TOKEN.sub("", answer.content.decode())


def made_anew(client: Client, url: str) -> str:
    caches["parts"].clear()
    return shown(client, url)

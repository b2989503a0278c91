"""The floor that pages are measured against: bare views that ask as many questions and do nothing else."""

from collections.abc import Callable

from django.db import connection
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import include, path

from courses.models import Skill


def raw(request: HttpRequest, queries: int) -> HttpResponse:
    """The cheapest query there is, sent through a bare cursor."""
    with connection.cursor() as cursor:
        for _ in range(queries):
            cursor.execute("SELECT 1")
            cursor.fetchone()
    return HttpResponse("done")


def by_key(request: HttpRequest, queries: int) -> HttpResponse:
    """One row by its key, as any Django view would fetch it."""
    key = Skill.objects.values_list("pk", flat=True)[0]
    for _ in range(queries - 1):
        Skill.objects.get(pk=key)
    return HttpResponse("done")


def in_base(request: HttpRequest, queries: int) -> HttpResponse:
    """The same, inside the frame that every page of the house has."""
    by_key(request, queries)
    return render(request, "base.html")


FLOORS: dict[str, Callable[..., HttpResponse]] = {"raw": raw, "by_key": by_key, "in_base": in_base}
urlpatterns = [
    *(path(f"floor/{name}/<int:queries>/", view) for name, view in FLOORS.items()),
    path("", include("academy.urls")),  # the frame links to the house's pages
]

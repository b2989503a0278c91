from django.http import HttpRequest, HttpResponse


def home(request: HttpRequest, **kwargs: object) -> HttpResponse:
    raise NotImplementedError  # being written


def choose(request: HttpRequest, **kwargs: object) -> HttpResponse:
    raise NotImplementedError  # being written


def people(request: HttpRequest, **kwargs: object) -> HttpResponse:
    raise NotImplementedError  # being written


def invite(request: HttpRequest, **kwargs: object) -> HttpResponse:
    raise NotImplementedError  # being written


def person(request: HttpRequest, **kwargs: object) -> HttpResponse:
    raise NotImplementedError  # being written


def person_leave(request: HttpRequest, **kwargs: object) -> HttpResponse:
    raise NotImplementedError  # being written


def invitation_withdraw(request: HttpRequest, **kwargs: object) -> HttpResponse:
    raise NotImplementedError  # being written


def cohort_new(request: HttpRequest, **kwargs: object) -> HttpResponse:
    raise NotImplementedError  # being written


def cohort_edit(request: HttpRequest, **kwargs: object) -> HttpResponse:
    raise NotImplementedError  # being written


def invitation_accept(request: HttpRequest, **kwargs: object) -> HttpResponse:
    raise NotImplementedError  # being written


def academy_settings(request: HttpRequest, **kwargs: object) -> HttpResponse:
    raise NotImplementedError  # being written


def csrf_failure(request: HttpRequest, reason: str = "") -> HttpResponse:
    raise NotImplementedError  # being written


def forbidden(request: HttpRequest, exception: Exception) -> HttpResponse:
    raise NotImplementedError  # being written

from django.http import HttpRequest, HttpResponse


def new_set(request: HttpRequest, **kwargs: object) -> HttpResponse:
    raise NotImplementedError  # being written


def clock(request: HttpRequest, **kwargs: object) -> HttpResponse:
    raise NotImplementedError  # being written


def inspect(request: HttpRequest, **kwargs: object) -> HttpResponse:
    raise NotImplementedError  # being written

from django.http import HttpRequest, HttpResponse


def practice_set(request: HttpRequest, **kwargs: object) -> HttpResponse:
    raise NotImplementedError  # being written


def sheet(request: HttpRequest, **kwargs: object) -> HttpResponse:
    raise NotImplementedError  # being written

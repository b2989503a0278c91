from django.http import HttpRequest, HttpResponse


def sign(request: HttpRequest, **kwargs: object) -> HttpResponse:
    raise NotImplementedError  # being written


def correct(request: HttpRequest, **kwargs: object) -> HttpResponse:
    raise NotImplementedError  # being written

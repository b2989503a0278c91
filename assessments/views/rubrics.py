from django.http import HttpRequest, HttpResponse


def rubric_list(request: HttpRequest, **kwargs: object) -> HttpResponse:
    raise NotImplementedError  # being written


def version(request: HttpRequest, **kwargs: object) -> HttpResponse:
    raise NotImplementedError  # being written


def copy(request: HttpRequest, **kwargs: object) -> HttpResponse:
    raise NotImplementedError  # being written


def edit(request: HttpRequest, **kwargs: object) -> HttpResponse:
    raise NotImplementedError  # being written


def publish(request: HttpRequest, **kwargs: object) -> HttpResponse:
    raise NotImplementedError  # being written


def discard(request: HttpRequest, **kwargs: object) -> HttpResponse:
    raise NotImplementedError  # being written


def criterion(request: HttpRequest, **kwargs: object) -> HttpResponse:
    raise NotImplementedError  # being written


def brief_rubric(request: HttpRequest, **kwargs: object) -> HttpResponse:
    raise NotImplementedError  # being written

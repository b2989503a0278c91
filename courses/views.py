from django.http import HttpRequest, HttpResponse


def catalogue(request: HttpRequest, **kwargs: object) -> HttpResponse:
    raise NotImplementedError  # being written


def head_list(request: HttpRequest, **kwargs: object) -> HttpResponse:
    raise NotImplementedError  # being written


def head_new(request: HttpRequest, **kwargs: object) -> HttpResponse:
    raise NotImplementedError  # being written


def head_edit(request: HttpRequest, **kwargs: object) -> HttpResponse:
    raise NotImplementedError  # being written


def head_strip(request: HttpRequest, **kwargs: object) -> HttpResponse:
    raise NotImplementedError  # being written


def head_retire(request: HttpRequest, **kwargs: object) -> HttpResponse:
    raise NotImplementedError  # being written


def brief_list(request: HttpRequest, **kwargs: object) -> HttpResponse:
    raise NotImplementedError  # being written


def brief_new(request: HttpRequest, **kwargs: object) -> HttpResponse:
    raise NotImplementedError  # being written


def brief(request: HttpRequest, **kwargs: object) -> HttpResponse:
    raise NotImplementedError  # being written


def brief_edit(request: HttpRequest, **kwargs: object) -> HttpResponse:
    raise NotImplementedError  # being written


def brief_retire(request: HttpRequest, **kwargs: object) -> HttpResponse:
    raise NotImplementedError  # being written

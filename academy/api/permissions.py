from rest_framework.permissions import BasePermission
from rest_framework.request import Request

from academy.models import Role


class IsMember(BasePermission):
    """Signed in, with a place in an academy."""

    def has_permission(self, request: Request, view: object) -> bool:
        return bool(request.user.is_authenticated and request.member)


class IsStaffHere(IsMember):
    def has_permission(self, request: Request, view: object) -> bool:
        return super().has_permission(request, view) and request.member.role != Role.STUDENT

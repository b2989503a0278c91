from rest_framework.permissions import BasePermission
from rest_framework.request import Request

from academy.models import Membership, Role


class MemberApiRequest(Request):
    """A request whose sender has a place in an academy."""

    member: Membership


class IsMember(BasePermission):
    """Signed in, with a place in an academy."""

    def has_permission(self, request: Request, view: object) -> bool:
        return bool(request.user.is_authenticated and getattr(request, "member", None))


class IsStaffHere(IsMember):
    def has_permission(self, request: Request, view: object) -> bool:
        return super().has_permission(request, view) and getattr(request, "member").role != Role.STUDENT  # noqa: B009

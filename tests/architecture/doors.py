"""Every door of the house and who may open it: one row for each URL name."""

from collections.abc import Iterator
from dataclasses import dataclass, replace

from django.urls import URLPattern, URLResolver, get_resolver

OK, FOUND, REFUSED, NOT_HERE, GONE, NOT_ALLOWED = 200, 302, 403, 404, 410, 405


@dataclass(frozen=True, slots=True)
class Door:
    """What each person gets with their own academy's object, by the first of ``methods``.

    ``about`` names the object in the path; the neighbour's one answers ``foreign`` to whoever is let in here.
    ``anonymous``: FOUND means sent to sign in. ``peer``: what a student gets with another student's object.
    """

    owner: int
    educator: int
    student: int
    anonymous: int = FOUND
    about: str = ""
    methods: tuple[str, ...] = ("GET",)
    foreign: int = NOT_HERE
    peer: int | None = None


READ, FORM, BUTTON = ("GET",), ("GET", "POST"), ("POST",)
MEMBERS = Door(OK, OK, OK)
STAFF = Door(OK, OK, REFUSED)
OWNER = Door(OK, REFUSED, REFUSED)
STUDENT = Door(REFUSED, REFUSED, OK)
API = Door(OK, OK, REFUSED, anonymous=REFUSED)
MARKS_BLIND = Door(NOT_HERE, OK, REFUSED)  # the educator whom chance has given the set, nobody else
SIGNED_IN = MEMBERS  # pages of the account itself: the same for every role
ENTRANCE = Door(FOUND, FOUND, FOUND, anonymous=OK, methods=FORM)  # only for those not signed in yet
ANYONE = Door(OK, OK, OK, anonymous=OK)
PROOF_FIRST = Door(FOUND, FOUND, FOUND)  # asks who is signed in to prove it once more
LED_ON = Door(FOUND, FOUND, FOUND)  # nothing to do here now: leads to where there is
NO_SECOND_STEP = Door(NOT_HERE, NOT_HERE, NOT_HERE)  # nobody in the cast has set one up


def form(door: Door, about: str = "") -> Door:
    return replace(door, methods=FORM, about=about)


def button(door: Door, about: str) -> Door:
    """Answers POST only, and then leads on."""
    moved = {role: FOUND for role in ("owner", "educator") if getattr(door, role) == OK}
    return replace(door, methods=BUTTON, about=about, **moved)


def about(door: Door, thing: str) -> Door:
    return replace(door, about=thing)


OURS: dict[str, Door] = {
    "academy:home": Door(FOUND, FOUND, FOUND),
    "academy:choose": form(MEMBERS),
    "academy:session": form(ANYONE),
    "academy:people": OWNER,
    "academy:invite": form(OWNER),
    "academy:person": form(OWNER, "member"),
    "academy:person-leave": form(OWNER, "member"),
    "academy:invitation-withdraw": form(OWNER, "invitation"),
    "academy:invitation-renew": button(OWNER, "invitation"),
    "academy:cohort-new": form(OWNER),
    "academy:cohort-edit": form(OWNER, "cohort"),
    # The token is the key, whoever holds it; it shows an invitation of either academy.
    "academy:invitation-accept": replace(form(ANYONE, "token"), foreign=OK),
    "academy:settings": form(OWNER),
    "academy:security-txt": ANYONE,
    "academy:consents": form(STUDENT),
    "courses:catalogue": MEMBERS,
    "courses:head-list": STAFF,
    "courses:head-new": form(STAFF),
    "courses:head-edit": form(STAFF, "head"),
    "courses:head-strip": form(STAFF, "head"),
    "courses:head-retire": form(STAFF, "head"),
    "courses:brief-list": STAFF,
    "courses:map-guide": form(OWNER),
    "courses:brief-new": form(STAFF),
    "courses:brief-draft": replace(STAFF, methods=BUTTON),
    "courses:brief": about(STAFF, "brief"),
    "courses:brief-edit": form(STAFF, "brief"),
    "courses:brief-retire": form(STAFF, "brief"),
    "courses:brief-copy": form(STAFF, "brief"),
    "courses:brief-supplies": about(STAFF, "brief"),
    "courses:supplies-data": about(STAFF, "brief supplies"),
    "courses:supplies-metadata": about(STAFF, "brief supplies"),
    "courses:rota": STAFF,
    "courses:agenda": STAFF,
    "courses:booking": about(STAFF, "booking"),
    "courses:booking-cancel": form(STAFF, "booking"),
    "courses:booking-came": button(STAFF, "booking"),
    "courses:my-times": STUDENT,
    "courses:my-booking-accept": replace(
        STUDENT, student=FOUND, methods=BUTTON, about="booking", peer=NOT_HERE
    ),
    "courses:my-booking-cancel": replace(form(STUDENT, "booking"), peer=NOT_HERE),
    "courses:wait": form(STUDENT),
    "courses:wait-stop": replace(STUDENT, student=FOUND, methods=BUTTON, about="wait", peer=NOT_HERE),
    "courses:free-times": replace(STUDENT, methods=FORM),
    "courses:free-exception": replace(STUDENT, methods=BUTTON),
    "courses:free-exception-drop": replace(
        STUDENT, student=FOUND, methods=BUTTON, about="exception", peer=NOT_HERE
    ),
    "courses:rota-setup": OWNER,
    "courses:rota-opening": form(OWNER),
    "courses:rota-rules": form(OWNER),
    "courses:day-close": replace(OWNER, methods=BUTTON),
    "courses:day-open": button(OWNER, "closed day"),
    "courses:room-new": form(OWNER),
    "courses:room-edit": form(OWNER, "room"),
    "courses:room-retire": button(OWNER, "spare room"),
    "courses:kind-new": form(OWNER),
    "courses:kind-edit": form(OWNER, "kind"),
    "courses:kind-retire": button(OWNER, "kind"),
    "courses:rota-educator": form(OWNER, "educator"),
    "courses:rota-away": form(OWNER, "educator"),
    "courses:rota-away-drop": button(OWNER, "time away"),
    "courses:my-calendar": MEMBERS,
    "courses:calendar-renew": replace(MEMBERS, methods=BUTTON),
    "courses:calendar-close": replace(LED_ON, methods=BUTTON),
    "courses:calendar-feed": replace(ANYONE, about="feed", foreign=OK),
    "courses:programme-list": STAFF,
    "courses:programme-new": form(OWNER),
    "courses:programme-enrol": form(OWNER),
    "courses:programme-version": about(STAFF, "programme version"),
    "courses:programme-name": form(OWNER, "programme version"),
    "courses:programme-copy": button(OWNER, "programme version"),
    "courses:programme-retire": form(OWNER, "programme version"),
    "courses:programme-edit": form(OWNER, "programme draft"),
    "courses:programme-publish": form(OWNER, "programme draft"),
    "courses:programme-discard": form(OWNER, "programme draft"),
    "courses:enrolment": about(STAFF, "student"),
    "courses:enrolment-end": form(OWNER, "student"),
    "courses:enrolment-units": form(STAFF, "student"),
    "courses:enrolment-move": form(OWNER, "move to a newer version"),
    "courses:hours-enter": form(STAFF, "student"),
    "courses:hours-group": form(STAFF),
    "courses:hours-correct": form(STAFF, "hours entry"),
    "courses:my-programme": STUDENT,
    "assessments:today": STAFF,
    "assessments:student-list": STAFF,
    "assessments:student": about(STAFF, "student"),
    "assessments:student-sets": about(STAFF, "student"),
    "assessments:student-changes": about(STAFF, "student"),
    "assessments:readiness": about(STAFF, "student"),
    "assessments:gate-sign": button(STAFF, "student"),
    "assessments:gate-close": form(STAFF, "student"),
    "assessments:my-readiness": STUDENT,
    "assessments:my-gate-sign": replace(STUDENT, student=FOUND, methods=BUTTON),
    "assessments:stand": STUDENT,
    "assessments:stand-changes": STUDENT,
    "assessments:next": STUDENT,
    "assessments:need-list": STAFF,
    "assessments:need-rules": form(OWNER),
    "assessments:need-count": form(STAFF, "need"),
    "assessments:student-needs": about(STAFF, "student"),
    "assessments:need-raise": form(STAFF, "student"),
    "assessments:my-sets": STUDENT,
    "assessments:bench-new": form(STAFF),
    "assessments:bench": about(STAFF, "working set"),
    "assessments:bench-inspect": about(STAFF, "finished set"),
    "assessments:bench-marks": form(STAFF, "inspected set"),
    "assessments:set": replace(MEMBERS, about="graded set", peer=NOT_HERE),
    "assessments:set-sheet": replace(MEMBERS, about="graded set", peer=NOT_HERE),
    "assessments:set-correct": form(STAFF, "graded set"),
    "assessments:competence-rules": OWNER,
    "assessments:competence-mastery": form(OWNER),
    # Skills are shared by all academies; what is shown about one is the academy's own.
    "assessments:competence-rule": replace(form(OWNER, "gate skill"), foreign=OK),
    "assessments:competence-picture": replace(OWNER, about="gate skill", foreign=OK),
    "assessments:second-mark": form(STAFF, "second mark"),
    "assessments:second-inspect": about(MARKS_BLIND, "second mark"),
    "assessments:second-marks": form(MARKS_BLIND, "inspected second mark"),
    "assessments:second-waive": form(OWNER, "second mark"),
    "assessments:agreement": STAFF,
    "assessments:agreement-compute": button(STAFF, ""),
    "assessments:agreement-rate": form(OWNER),
    "assessments:standard-choose": form(STAFF, "graded set"),
    "assessments:standard-set": form(STAFF, "standard set"),
    "assessments:standard-note": button(STAFF, "standard set"),
    "assessments:standard-close": button(STAFF, "standard set"),
    "assessments:rubric-list": MEMBERS,
    "assessments:rubric-version": about(MEMBERS, "published version"),
    "assessments:rubric-copy": button(OWNER, "published version"),
    "assessments:rubric-edit": form(OWNER, "draft version"),
    "assessments:rubric-publish": form(OWNER, "draft version"),
    "assessments:rubric-discard": form(OWNER, "draft version"),
    "assessments:rubric-criterion": form(OWNER, "draft criterion"),
    "assessments:brief-rubric": form(STAFF, "brief"),
    "assessments:brief-print": about(STAFF, "brief"),
    "assessments:plan-list": form(STAFF),
    "assessments:plan": about(STAFF, "plan"),
    "assessments:plan-decide": button(STAFF, "plan"),
    "assessments:booking-new": form(STAFF),
    "assessments:booking-move": form(STAFF, "booking"),
    "assessments:my-booking-new": form(STUDENT),
    "assessments:my-booking-move": replace(form(STUDENT, "booking"), peer=NOT_HERE),
    "assessments:certificate-list": STAFF,
    "assessments:certificate-batch-list": form(STAFF),
    "assessments:certificate-batch": about(STAFF, "batch"),
    "assessments:certificate-batch-file": about(STAFF, "batch"),
    "assessments:certificate-issue": form(STAFF, "new student"),
    "assessments:certificate": replace(MEMBERS, about="certificate", peer=NOT_HERE),
    "assessments:certificate-token": replace(MEMBERS, about="certificate", peer=NOT_HERE),
    "assessments:certificate-pdf": replace(MEMBERS, about="certificate", peer=NOT_HERE),
    "assessments:certificate-badge": replace(MEMBERS, about="certificate", peer=NOT_HERE),
    "assessments:certificate-suspend": form(STAFF, "certificate"),
    "assessments:certificate-restore": form(STAFF, "certificate"),
    "assessments:certificate-revoke": form(STAFF, "certificate"),
    "assessments:certificate-reissue": form(STAFF, "certificate"),
    "assessments:certificate-share": Door(REFUSED, REFUSED, FOUND, about="certificate", methods=BUTTON),
    "assessments:my-certificates": STUDENT,
    # Public for good: the same answer for everybody, whichever academy it is about.
    "assessments:check": ANYONE,
    "assessments:check-file": replace(ANYONE, methods=FORM),
    "assessments:check-code": replace(ANYONE, about="code", foreign=OK),
    "assessments:key": replace(ANYONE, about="key", foreign=OK),
    "assessments:key-set": ANYONE,
    "assessments:certified-programme": replace(ANYONE, about="certified programme", foreign=OK),
    "assessments:did": replace(ANYONE, about="school", foreign=OK),
    "assessments:status": replace(ANYONE, about="status list", foreign=OK),
    "api:second-mark": replace(MARKS_BLIND, anonymous=REFUSED, about="second mark"),
    "api:second-mark-events": replace(MARKS_BLIND, anonymous=REFUSED, about="second mark", methods=BUTTON),
    "api:second-mark-draft": replace(MARKS_BLIND, anonymous=REFUSED, about="second mark", methods=("PUT",)),
    "api:set": about(API, "working set"),
    "api:set-events": replace(API, about="working set", methods=BUTTON),
    "api:set-draft": replace(API, about="inspected set", methods=("PUT",)),
}

SIGN_IN_LIBRARY: dict[str, Door] = {
    "account_login": ENTRANCE,
    "account_logout": form(SIGNED_IN),
    "account_inactive": ANYONE,
    "account_signup": replace(ENTRANCE, methods=READ),  # closed: people come by invitation
    "account_reauthenticate": form(SIGNED_IN),
    "account_email": form(SIGNED_IN),
    "account_email_verification_sent": LED_ON,
    "account_change_password": form(SIGNED_IN),
    "account_set_password": form(LED_ON),  # they have one: it can be changed
    "account_reset_password": replace(ANYONE, methods=FORM),
    "account_confirm_login_code": LED_ON,
    "account_reset_password_from_key_done": ANYONE,
    "account_reset_password_from_key": replace(ANYONE, about="reset key", foreign=OK),
    "account_reset_password_done": ANYONE,
    "account_request_login_code": ENTRANCE,
    "mfa_index": SIGNED_IN,
    "mfa_authenticate": LED_ON,
    "mfa_reauthenticate": form(LED_ON),
    "mfa_activate_totp": PROOF_FIRST,
    "mfa_deactivate_totp": NO_SECOND_STEP,
    "mfa_view_recovery_codes": NO_SECOND_STEP,
    "mfa_generate_recovery_codes": PROOF_FIRST,
    "mfa_download_recovery_codes": NO_SECOND_STEP,
    "mfa_list_webauthn": SIGNED_IN,
    "mfa_add_webauthn": PROOF_FIRST,
    "mfa_reauthenticate_webauthn": PROOF_FIRST,
    "mfa_remove_webauthn": replace(PROOF_FIRST, about="passkey", foreign=FOUND),
    "mfa_edit_webauthn": replace(PROOF_FIRST, about="passkey", foreign=FOUND),
    "mfa_login_webauthn": LED_ON,
    "usersessions_list": form(SIGNED_IN),
}
DOORS = OURS | SIGN_IN_LIBRARY


def url_names() -> list[str]:
    """Every name the house answers to, found by walking the resolver."""
    return list(_names(get_resolver().url_patterns))


def _names(patterns: list[URLPattern | URLResolver], space: str = "") -> Iterator[str]:
    for pattern in patterns:
        if isinstance(pattern, URLResolver):
            inner = f"{pattern.namespace}:" if pattern.namespace else ""
            yield from _names(pattern.url_patterns, space + inner)
        else:
            yield f"{space}{pattern.name or pattern.pattern}"

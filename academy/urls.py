"""Every door of the house. The upper floors are named as strings: this floor does not look up."""

from django.urls import include, path

from academy.views import academies, consents, home, invitations, people

house = [
    path("", home.home, name="home"),
    path("choose/", home.choose, name="choose"),
    path("session/", home.session, name="session"),
    path("people/", people.people, name="people"),
    path("people/invite/", invitations.invite, name="invite"),
    path("people/<int:member_id>/", people.person, name="person"),
    path("people/<int:member_id>/leave/", people.person_leave, name="person-leave"),
    path(
        "people/invitations/<int:invitation_id>/withdraw/",
        invitations.invitation_withdraw,
        name="invitation-withdraw",
    ),
    path(
        "people/invitations/<int:invitation_id>/renew/", invitations.invitation_renew, name="invitation-renew"
    ),
    path("people/cohorts/new/", academies.cohort_new, name="cohort-new"),
    path("people/cohorts/<int:cohort_id>/", academies.cohort_edit, name="cohort-edit"),
    path("invitation/<str:token>/", invitations.invitation_accept, name="invitation-accept"),
    path("academy/", academies.academy_settings, name="settings"),
    path("consents/", consents.consents, name="consents"),
    path(".well-known/security.txt", home.security_txt, name="security-txt"),
]
urlpatterns = [
    path("", include((house, "academy"))),
    path("", include("courses.urls")),
    path("", include("assessments.urls")),
    path("api/v1/", include("assessments.api.urls")),
    path("account/", include("allauth.urls")),
]
handler429 = "academy.views.home.too_many_tries"  # asked for by the limits on sign-in and invitations

from django.urls import path

from courses.views import briefs, catalogue, heads

app_name = "courses"
urlpatterns = [
    path("catalogue/", catalogue.catalogue, name="catalogue"),
    path("heads/", heads.head_list, name="head-list"),
    path("heads/new/", heads.head_new, name="head-new"),
    path("heads/<int:head_id>/", heads.head_edit, name="head-edit"),
    path("heads/<int:head_id>/strip/", heads.head_strip, name="head-strip"),
    path("heads/<int:head_id>/retire/", heads.head_retire, name="head-retire"),
    path("briefs/", briefs.brief_list, name="brief-list"),
    path("briefs/new/", briefs.brief_new, name="brief-new"),
    path("briefs/<int:brief_id>/", briefs.brief, name="brief"),
    path("briefs/<int:brief_id>/edit/", briefs.brief_edit, name="brief-edit"),
    path("briefs/<int:brief_id>/retire/", briefs.brief_retire, name="brief-retire"),
]

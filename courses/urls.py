from django.urls import path

from courses.views import brief_editor, briefs, catalogue, heads, library, map_guide, supplies

app_name = "courses"
# A file of its own name, so that the downloaded data and its description stay a pair.
SUPPLIES = "supplies/brief-<int:brief_id>-version-<int:number>-set-<int:nth_set>-students-<int:students>.csv"
urlpatterns = [
    path("catalogue/", catalogue.catalogue, name="catalogue"),
    path("heads/", heads.head_list, name="head-list"),
    path("heads/new/", heads.head_new, name="head-new"),
    path("heads/<int:head_id>/", heads.head_edit, name="head-edit"),
    path("heads/<int:head_id>/strip/", heads.head_strip, name="head-strip"),
    path("heads/<int:head_id>/retire/", heads.head_retire, name="head-retire"),
    path("briefs/", library.brief_list, name="brief-list"),
    path("briefs/guide/", map_guide.map_guide, name="map-guide"),
    path("briefs/new/", brief_editor.brief_new, name="brief-new"),
    path("briefs/draft/", brief_editor.brief_draft, name="brief-draft"),
    path("briefs/<int:brief_id>/", briefs.brief, name="brief"),
    path("briefs/<int:brief_id>/edit/", brief_editor.brief_edit, name="brief-edit"),
    path("briefs/<int:brief_id>/retire/", briefs.brief_retire, name="brief-retire"),
    path("briefs/<int:brief_id>/copy/", library.brief_copy, name="brief-copy"),
    path("briefs/<int:brief_id>/supplies/", supplies.supplies, name="brief-supplies"),
    path(SUPPLIES, supplies.supplies_data, name="supplies-data"),
    path(f"{SUPPLIES}-metadata.json", supplies.supplies_metadata_file, name="supplies-metadata"),
]

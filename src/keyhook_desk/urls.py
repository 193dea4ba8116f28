"""Every address of the desk; one slice a line."""

from django.urls import include, path

urlpatterns = [
    path("", include("keyhook_desk.yard.urls")),
    path("", include("keyhook_desk.web.urls")),
    path("people/", include("keyhook_desk.people.urls")),
    path("vehicles/", include("keyhook_desk.fleet.urls")),
    path("hires/", include("keyhook_desk.hires.urls")),
    path("", include("keyhook_desk.walkround.urls")),
    path("my-work/", include("keyhook_desk.mywork.urls")),
    path("papers/", include("keyhook_desk.papers.urls")),
    path("pack/", include("keyhook_desk.pack.urls")),
    path("", include("keyhook_desk.pack.desk_urls")),
]
handler404 = "keyhook_desk.web.views.not_found"
handler403 = "keyhook_desk.web.views.not_allowed"
handler500 = "keyhook_desk.web.views.broken"

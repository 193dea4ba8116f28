"""Addresses of the desk that belong to packs."""

from django.urls import path

from keyhook_desk.pack import views

app_name = "packs"
urlpatterns = [
    path("hires/<slug:name>/pack/", views.hire, name="hire"),
    path("hires/<slug:name>/pack/link/", views.link, name="link"),
    path("hires/<slug:name>/pack/code.svg", views.code, name="code"),
    path("hires/<slug:name>/pack/dates.ics", views.dates, name="dates"),
    path("vehicles/<slug:vehicle>/stickers.pdf", views.stickers, name="stickers"),
    path("vehicles/<slug:vehicle>/photos/", views.photos, name="photos"),
    path("vehicles/<slug:vehicle>/photos/<slug:digest>/", views.photo, name="photo"),
    path("languages/", views.languages, name="languages"),
]

"""Addresses that hirers open, without an account: a signed link each, and the codes on the stickers."""

from django.urls import path

from keyhook_desk.pack import public

app_name = "pack"
urlpatterns = [
    path("worker.js", public.worker, name="worker"),
    path("find/<slug:vehicle>/<int:number>/", public.landing, name="find"),
    path("<str:token>/", public.home, name="home"),
    path("<str:token>/looked/", public.looked, name="looked"),
    path("<str:token>/read/", public.read, name="read"),
    path("<str:token>/pack.webmanifest", public.manifest, name="manifest"),
    path("<str:token>/photo/<slug:digest>/", public.photo, name="photo"),
    path("<str:token>/<slug:language>/", public.home, name="home_in"),
    path("<str:token>/<slug:language>/dates.ics", public.dates, name="dates"),
]

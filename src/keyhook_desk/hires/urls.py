"""Addresses of hires."""

from django.urls import path

from keyhook_desk.hires import bookings, views

app_name = "hires"
urlpatterns = [
    path("", views.listing, name="listing"),
    path("new/", views.new, name="new"),
    path("import/", bookings.take_in, name="import"),
    path("<slug:name>/", views.hire, name="hire"),
    path("<slug:name>/swap/", views.swap, name="swap"),
    path("<slug:name>/gate/", views.gate, name="gate"),
]

"""Addresses of vehicles."""

from django.urls import path

from keyhook_desk.fleet import views

app_name = "fleet"
urlpatterns = [
    path("", views.listing, name="listing"),
    path("<slug:name>/", views.vehicle, name="vehicle"),
    path("<slug:name>/ticket/", views.ticket, name="ticket"),
]

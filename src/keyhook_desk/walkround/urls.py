"""Addresses of the hand-over; they hang below those of hires and vehicles."""

from django.urls import path

from keyhook_desk.walkround import counted_views, film_views, recorded_views, views, walk_views

app_name = "walkround"
urlpatterns = [
    path("hires/<slug:hire>/tour/", views.tour, name="tour"),
    path("hires/<slug:hire>/tour/autocue.txt", views.autocue_text, name="autocue"),
    path("hires/<slug:hire>/tour/chapters.vtt", views.chapters, name="chapters"),
    path("hires/<slug:hire>/tour/subtitles.vtt", views.subtitles, name="subtitles"),
    path("hires/<slug:hire>/hand-over.pdf", views.hand_over_pdf, name="hand_over_pdf"),
    path("hires/<slug:hire>/walk/", walk_views.walk, name="walk"),
    path("hires/<slug:hire>/walk/tick/", walk_views.take_tick, name="tick"),
    path("hires/<slug:hire>/walk/state/", walk_views.state, name="state"),
    path("hires/<slug:hire>/walk/again/", walk_views.plan_again, name="again"),
    path("hires/<slug:hire>/walk/hand-over/", walk_views.take_hand_over, name="hand_over"),
    path("hires/<slug:hire>/hand-over/<int:number>/", walk_views.acknowledged, name="acknowledged"),
    path("teach-points/", counted_views.counted, name="counted"),
    path("teach-points/<slug:point>/", counted_views.counted_one, name="counted_one"),
    path("vehicles/<slug:vehicle>/recorded-tour/", recorded_views.recorded, name="recorded"),
    path("vehicles/<slug:vehicle>/film/", film_views.film, name="film"),
    path("vehicles/<slug:vehicle>/film/<slug:piece>/", film_views.film_piece, name="film_piece"),
]

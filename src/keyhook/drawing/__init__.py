"""Vehicles and loads as SVG: data in, picture out, the same on page and paper."""

from keyhook.drawing.bars import Bar, load_bars
from keyhook.drawing.elevation import elevation_drawing
from keyhook.drawing.key_tag import key_tag
from keyhook.drawing.plan import plan_drawing
from keyhook.drawing.route import Stand
from keyhook.drawing.timeline import Lane, TimeMark, timeline_drawing
from keyhook.drawing.words import describe_elevation, describe_plan

__all__ = [
    "Bar",
    "Lane",
    "Stand",
    "TimeMark",
    "describe_elevation",
    "describe_plan",
    "elevation_drawing",
    "key_tag",
    "load_bars",
    "plan_drawing",
    "timeline_drawing",
]

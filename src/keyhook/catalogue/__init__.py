"""What is known of fittings, tasks, kit and charges, shipped as data and read once."""

from keyhook.catalogue.models import (
    Catalogue,
    Cause,
    Charge,
    Fitting,
    Inspection,
    KitItem,
    Loads,
    Place,
    Symptom,
    Task,
    TeachPoint,
    TurnCheck,
    Use,
)
from keyhook.catalogue.reading import json_schemas, load_catalogue, read_catalogue

__all__ = [
    "Catalogue",
    "Cause",
    "Charge",
    "Fitting",
    "Inspection",
    "KitItem",
    "Loads",
    "Place",
    "Symptom",
    "Task",
    "TeachPoint",
    "TurnCheck",
    "Use",
    "json_schemas",
    "load_catalogue",
    "read_catalogue",
]

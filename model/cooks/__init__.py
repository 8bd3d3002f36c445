"""Measured cooks: what was recorded, what the model says of the same hours."""

from .prediction import CookModel
from .record import PLANES, SENSORS, CookRecord, Plane, RecordError

__all__ = ["PLANES", "SENSORS", "CookModel", "CookRecord", "Plane", "RecordError"]

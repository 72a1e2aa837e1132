"""What the shop owns: people, kits, sensors, who holds what, and what happened. In reading order."""

from kits.models.events import Event, EventAbout, FollowUp, Receipt, ShelfCount, Told
from kits.models.kit import Condition, Custody, Isolation, Kit, Part, Place, PowerInput
from kits.models.people import LabelStock, Role, Shop, TemperatureUnit, User
from kits.models.sensor import KeptAt, Offset, OffsetSource, Sensor, SparePlace, TapeColour, Wiring

__all__ = [
    "Condition",
    "Custody",
    "Event",
    "EventAbout",
    "FollowUp",
    "Isolation",
    "KeptAt",
    "Kit",
    "LabelStock",
    "Offset",
    "OffsetSource",
    "Part",
    "Place",
    "PowerInput",
    "Receipt",
    "Role",
    "Sensor",
    "ShelfCount",
    "Shop",
    "SparePlace",
    "TapeColour",
    "TemperatureUnit",
    "Told",
    "User",
    "Wiring",
]

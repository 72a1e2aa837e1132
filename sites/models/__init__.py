"""Where kits go: places, work, stays. In reading order."""

from sites.models.agreements import Agreement, Terms
from sites.models.calendar import CalendarAddress, DaySheetSent
from sites.models.calls import BUILT_IN_POSITIONS, Position, Reason, ServiceCall
from sites.models.deployments import Deployment, Placement, Stage
from sites.models.places import Customer, FloatSwitch, Party, PartyRole, Site, Unit, UnitKind
from sites.models.visits import (
    Extension,
    HandBack,
    HandBackPlace,
    Installation,
    Occasion,
    ReferenceReading,
    Removal,
    TapPlace,
    WifiUse,
)

__all__ = [
    "BUILT_IN_POSITIONS",
    "Agreement",
    "CalendarAddress",
    "Customer",
    "DaySheetSent",
    "Deployment",
    "Extension",
    "FloatSwitch",
    "HandBack",
    "HandBackPlace",
    "Installation",
    "Occasion",
    "Party",
    "PartyRole",
    "Placement",
    "Position",
    "Reason",
    "ReferenceReading",
    "Removal",
    "ServiceCall",
    "Site",
    "Stage",
    "TapPlace",
    "Terms",
    "Unit",
    "UnitKind",
    "WifiUse",
]

"""The tables, one file per noun. Import from here, so that every table is known to the metadata."""

from webapp.models.base import at, now
from webapp.models.blank import (
    Blank,
    BlankStatus,
    BlankStep,
    Outcome,
    Reading,
    Stage,
    StepKind,
    StepRecord,
    StepState,
)
from webapp.models.cut import Cut
from webapp.models.event import Event, Submission
from webapp.models.glue_up import Adhesive, GluedBlank, GlueUp
from webapp.models.order import Customer, Order, OrderedFlute, OrderStatus
from webapp.models.pattern import Pattern, PatternRevision
from webapp.models.person import FailedTry, Invitation, KnownBrowser, Person, Role, SignIn, SpareCode
from webapp.models.shop import Drill, Paper, Shop, Units
from webapp.models.spread import SpreadRun
from webapp.models.stock import MovementReason, Reservation, Species, StockItem, StockKind, StockMovement

__all__ = [
    "Adhesive",
    "Blank",
    "BlankStatus",
    "BlankStep",
    "Customer",
    "Cut",
    "Drill",
    "Event",
    "FailedTry",
    "GlueUp",
    "GluedBlank",
    "Invitation",
    "KnownBrowser",
    "MovementReason",
    "Order",
    "OrderStatus",
    "OrderedFlute",
    "Outcome",
    "Paper",
    "Pattern",
    "PatternRevision",
    "Person",
    "Reading",
    "Reservation",
    "Role",
    "Shop",
    "SignIn",
    "Species",
    "SpareCode",
    "SpreadRun",
    "Stage",
    "StepKind",
    "StepRecord",
    "StepState",
    "StockItem",
    "StockKind",
    "StockMovement",
    "Submission",
    "Units",
    "at",
    "now",
]

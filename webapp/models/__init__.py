"""The tables, one file per noun. Import from here, so that every table is known to the metadata."""

from webapp.models.base import at, now
from webapp.models.blanks.blank import (
    Blank,
    BlankStatus,
    BlankStep,
    Measure,
    Outcome,
    Reading,
    Stage,
    StepKind,
    StepRecord,
    StepState,
    is_for_the_shop,
)
from webapp.models.blanks.cut import Cut
from webapp.models.blanks.defect import Defect, DefectCause, DefectChoice, DefectDecision
from webapp.models.blanks.learning import Evidence, LearningChoice, LearningReset, Learnt
from webapp.models.blanks.pattern import Pattern, PatternRevision
from webapp.models.blanks.photo import FileKind, Photo
from webapp.models.blanks.spread import SpreadRun
from webapp.models.orders.bill import Bill, BillCounter, BillKind, Bookkeeping, Numbering
from webapp.models.orders.flute_pages import FlutePages
from webapp.models.orders.issued import IssuedKind, IssuedPaper, NoticeSeen, OrderChange
from webapp.models.orders.mail import MailKind, MailTemplate
from webapp.models.orders.order import Customer, Order, OrderedFlute, OrderStatus, TaxStatus, is_open
from webapp.models.orders.parcel import Parcel
from webapp.models.orders.payment import PaidBy, Payment, PaymentKind
from webapp.models.orders.price import ChosenOption, FluteOption, Pricing, Rounding, StageRate
from webapp.models.orders.promise import Forecast, ForecastKind, Promise, PromiseKind
from webapp.models.orders.repair import Repair, RepairKind
from webapp.models.orders.shelf import Outlet, ShelfFlute, ShelfSale
from webapp.models.orders.workshop import BlankMinutes, FluteSupply, StageMinutes, Workshop
from webapp.models.people.event import Event, Submission
from webapp.models.people.person import FailedTry, Invitation, KnownBrowser, Person, Role, SignIn, SpareCode
from webapp.models.people.token import Answered, Token
from webapp.models.search.search_row import SearchRow
from webapp.models.search.searching import index_all
from webapp.models.shop.calendar import BenchHours, DayOff
from webapp.models.shop.calendar_feed import CalendarFeed
from webapp.models.shop.change import ChangeCount
from webapp.models.shop.chore import Chore
from webapp.models.shop.draft import ImportDraft
from webapp.models.shop.print_run import PrintedFile, PrintRun
from webapp.models.shop.routing import Routing, RoutingVersion
from webapp.models.shop.shop import Degrees, Drill, Paper, SecondStepFor, Shop, SignInsLast, Units
from webapp.models.stock.glue_up import Adhesive, GluedBlank, GlueLot, GlueUp
from webapp.models.stock.stock import MovementReason, Reservation, Species, StockItem, StockKind, StockMovement
from webapp.models.stock.wood import BoardFlaw, CuttingPlan, MoistureReading, Sawing, SawnLot, WantedHalves

__all__ = [
    "Adhesive",
    "Answered",
    "BenchHours",
    "Bill",
    "BillCounter",
    "BillKind",
    "Blank",
    "BlankMinutes",
    "BlankStatus",
    "BlankStep",
    "BoardFlaw",
    "Bookkeeping",
    "CalendarFeed",
    "ChangeCount",
    "Chore",
    "ChosenOption",
    "Customer",
    "Cut",
    "CuttingPlan",
    "DayOff",
    "Defect",
    "DefectCause",
    "DefectChoice",
    "DefectDecision",
    "Degrees",
    "Drill",
    "Event",
    "Evidence",
    "FailedTry",
    "FileKind",
    "FluteOption",
    "FlutePages",
    "FluteSupply",
    "Forecast",
    "ForecastKind",
    "GlueLot",
    "GlueUp",
    "GluedBlank",
    "ImportDraft",
    "Invitation",
    "IssuedKind",
    "IssuedPaper",
    "KnownBrowser",
    "LearningChoice",
    "LearningReset",
    "Learnt",
    "MailKind",
    "MailTemplate",
    "Measure",
    "MoistureReading",
    "MovementReason",
    "NoticeSeen",
    "Numbering",
    "Order",
    "OrderChange",
    "OrderStatus",
    "OrderedFlute",
    "Outcome",
    "Outlet",
    "PaidBy",
    "Paper",
    "Parcel",
    "Pattern",
    "PatternRevision",
    "Payment",
    "PaymentKind",
    "Person",
    "Photo",
    "Pricing",
    "PrintRun",
    "PrintedFile",
    "Promise",
    "PromiseKind",
    "Reading",
    "Repair",
    "RepairKind",
    "Reservation",
    "Role",
    "Rounding",
    "Routing",
    "RoutingVersion",
    "Sawing",
    "SawnLot",
    "SearchRow",
    "SecondStepFor",
    "ShelfFlute",
    "ShelfSale",
    "Shop",
    "SignIn",
    "SignInsLast",
    "SpareCode",
    "Species",
    "SpreadRun",
    "Stage",
    "StageMinutes",
    "StageRate",
    "StepKind",
    "StepRecord",
    "StepState",
    "StockItem",
    "StockKind",
    "StockMovement",
    "Submission",
    "TaxStatus",
    "Token",
    "Units",
    "WantedHalves",
    "Workshop",
    "at",
    "index_all",
    "is_for_the_shop",
    "is_open",
    "now",
]

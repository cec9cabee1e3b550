"""Every kind of background job. A new one is added here; whoever asks for it enqueues it by this name."""

from typing import Final

from webapp.jobs.job import Job
from webapp.models import CuttingPlan, Forecast, PrintRun, SpreadRun
from webapp.paper.traveler import batches
from webapp.shop.learning import corrections, untuned
from webapp.shop.scheduling import forecasts
from webapp.shop.wood.plans import rules as cutting_plans

SPREAD: Final = Job("spread", untuned.calculate, SpreadRun)
CUTTING_PLAN: Final = Job("cutting plan", cutting_plans.calculate, CuttingPlan)
FORECAST: Final = Job("forecast", forecasts.calculate, Forecast, newest_only=True)
LEARNING: Final = Job("learning", corrections.calculate)
TRAVELERS: Final = Job("travelers", batches.print_batch, PrintRun, in_thread=True)

JOBS: Final = (SPREAD, CUTTING_PLAN, FORECAST, LEARNING, TRAVELERS)

"""The record: tables, engine and queries. SQLAlchemy and nothing but."""

from shopfloor.store.access import PersonSecret, SignIn, SignInAttempt, Tablet
from shopfloor.store.base import Base
from shopfloor.store.catalogue import Job, Material, Person, PersonRole, ShopFact, Station, Tap, TapType
from shopfloor.store.estimates import EstimateGeneration, EstimatePart, EstimatorLease
from shopfloor.store.floor import Cancellation, GaugeCheck, GaugeIncident, Incident, Photograph, Run, StockMovement
from shopfloor.store.on_record import Earlier, Edit
from shopfloor.store.output import CribStock, DailyOutput, MarkedInCrib, TotalOutput
from shopfloor.store.summaries import GaugeFailure, LifeStretch, TapLife

__all__ = [
    "Base",
    "Cancellation",
    "CribStock",
    "DailyOutput",
    "Earlier",
    "Edit",
    "EstimateGeneration",
    "EstimatePart",
    "EstimatorLease",
    "GaugeCheck",
    "GaugeFailure",
    "GaugeIncident",
    "Incident",
    "Job",
    "LifeStretch",
    "MarkedInCrib",
    "Material",
    "Person",
    "PersonRole",
    "PersonSecret",
    "Photograph",
    "Run",
    "ShopFact",
    "SignIn",
    "SignInAttempt",
    "Station",
    "StockMovement",
    "Tablet",
    "Tap",
    "TapLife",
    "TapType",
    "TotalOutput",
]

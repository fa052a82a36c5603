"""The record: tables, engine and queries. SQLAlchemy and nothing but."""

from shopfloor.store.access import PersonSecret, SignIn, SignInAttempt, Tablet
from shopfloor.store.base import Base
from shopfloor.store.catalogue import Job, Material, Person, PersonRole, ShopFact, Station, Tap, TapType
from shopfloor.store.estimates import EstimateGeneration, EstimatePart, EstimatorLease
from shopfloor.store.floor import Cancellation, GaugeCheck, GaugeIncident, Incident, Photograph, Run, StockMovement
from shopfloor.store.on_record import Earlier, Edit
from shopfloor.store.summaries import LifeStretch, TapLife

__all__ = [
    "Base",
    "Cancellation",
    "Earlier",
    "Edit",
    "EstimateGeneration",
    "EstimatePart",
    "EstimatorLease",
    "GaugeCheck",
    "GaugeIncident",
    "Incident",
    "Job",
    "LifeStretch",
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
]

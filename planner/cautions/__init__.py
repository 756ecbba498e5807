"""Cautions that follow from one job: ``cautions_for``."""

from planner.cautions.caution import Caution, CautionFacts, SteelFacts
from planner.cautions.rules import cautions_for

__all__ = ["Caution", "CautionFacts", "SteelFacts", "cautions_for"]

"""replay: where the metres of a miss came from, and whether the plan would have worked in the wind that was there."""

from analyser.replay.budget import (
    CAUSES,
    BudgetRow,
    Cause,
    PlanCheck,
    budget,
    would_the_plan_have_worked,
)
from analyser.replay.choose_advice import Advice

__all__ = [
    "CAUSES",
    "Advice",
    "BudgetRow",
    "Cause",
    "PlanCheck",
    "budget",
    "would_the_plan_have_worked",
]

"""How a team weighs the goals of a plan: the defaults times what its physiologist has said."""

from brinebook.engine.plan.bottles import PlanWeights
from brinebook.records.edited import PlanGoals


def weights_of(goals: PlanGoals | None) -> PlanWeights:
    """Weigh the goals as the team wants them; limits are no part of this."""
    default = PlanWeights()
    if goals is None:
        return default
    return PlanWeights(
        deficit_step_u=default.deficit_step_u * goals.deficit_factor,
        water_step_u=default.water_step_u * goals.water_factor,
        sodium_step_u=default.sodium_step_u * goals.sodium_factor,
        carbohydrate_step_u=default.carbohydrate_step_u * goals.carbohydrate_factor,
        bottle_u=default.bottle_u * goals.hand_up_factor,
        taste_run_u=default.taste_run_u * goals.variety_factor,
        peak_u=default.peak_u * goals.even_factor,
        risk_step_u=default.risk_step_u * goals.risk_factor,
    )

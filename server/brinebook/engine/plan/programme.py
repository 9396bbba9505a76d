"""The bottle plan as a mixed-integer linear programme: columns, limits and penalties put together."""

from brinebook.engine.plan.goals import add_goals
from brinebook.engine.plan.layout import Programme, empty_programme
from brinebook.engine.plan.limits_carrying import limit_carrying
from brinebook.engine.plan.limits_gut import limit_gut
from brinebook.engine.plan.limits_water import limit_water
from brinebook.engine.plan.terms import BottlePlanInput


def programme_of(inp: BottlePlanInput, *, is_cool_minimum_held: bool) -> Programme:
    """
    Write the plan as a programme.

    Parameters
    ----------
    inp : BottlePlanInput
        The rider, the stage and the offer.
    is_cool_minimum_held : bool
        Whether the least water of a cool stage is a limit.

    Returns
    -------
    Programme
        Rows, bounds and costs.

    References
    ----------
    .. [1] Source key ``balance_pin``, section 11; plasma rows from Source key ``kurtz_nguyen2003``, multiplied out.
    """
    programme = empty_programme(inp)
    programme.run(programme.columns.water_so_far, programme.water)
    programme.run(programme.columns.sodium_so_far, programme.sodium)
    limit_gut(inp, programme)
    limit_water(inp, programme, is_cool_minimum_held=is_cool_minimum_held)
    limit_carrying(inp, programme)
    add_goals(inp, programme)
    return programme

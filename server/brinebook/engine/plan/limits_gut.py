"""What the gut lets through: rows on drinking, sodium and carbohydrate per hour, and on the stomach."""

import numpy as np

from brinebook.engine.constants import balance as c
from brinebook.engine.plan.layout import Matrix, Programme
from brinebook.engine.plan.terms import BottlePlanInput
from brinebook.engine.units import sodium_mmol

HOUR_H = 1.0


def hour_windows_frac(times_h: Matrix) -> Matrix:
    """
    Share of each segment that lies in each hour that begins or ends at a feed.

    Drinking is even within a segment, so the fullest hour always begins or ends at a feed.

    Parameters
    ----------
    times_h : array, shape (k + 1,)
        Instants of start, feeds and finish [h].

    Returns
    -------
    array, shape (n, k)
        One row per window; a stage shorter than an hour is one window [frac].
    """
    first, last = times_h[0], times_h[-1]
    width_h = min(HOUR_H, float(last - first))
    begins = np.concatenate([times_h, times_h - width_h])
    begins = np.unique(np.clip(begins, first, last - width_h))[:, np.newaxis]
    overlap_h = np.minimum(begins + width_h, times_h[1:]) - np.maximum(begins, times_h[:-1])
    shares: Matrix = np.maximum(overlap_h, 0.0) / np.diff(times_h)
    return shares


def limit_gut(inp: BottlePlanInput, programme: Programme) -> None:
    """
    Add mean rates over the stage, rates in any hour, and the stomach.

    Parameters
    ----------
    inp : BottlePlanInput
        The rider, the stage and the offer.
    programme : Programme
        Gets the rows.

    Returns
    -------
    None
        The rows stand in the programme.

    References
    ----------
    .. [1] Source key ``lambert2008`` and ``mccubbin_costa2018``; carbohydrate, Source key ``thomas2016``.
    """
    limits, rows, stage_h = inp.limits, programme.rows, float(inp.times_h[-1] - inp.times_h[0])
    hours, width_h = hour_windows_frac(inp.times_h), min(HOUR_H, stage_h)
    volume, sodium, transport = programme.volume, programme.sodium, programme.transport
    rows.at_most("mean_rate", volume.sum(axis=0), limits.max_intake_l_per_h * stage_h, near=c.NEAR_WATER_L)
    rows.at_most("any_hour", hours @ volume, limits.max_any_hour_l_per_h * width_h, near=c.NEAR_WATER_L)
    rows.at_most("sodium_per_h", hours @ sodium, limits.max_sodium_mg_per_h * width_h, near=c.NEAR_SODIUM_MG)
    lost_mg = inp.sodium_mmol_per_l * float(inp.sweat_q50_l[-1]) / sodium_mmol(1.0)
    taken = programme.so_far(programme.columns.sodium_so_far[-1:])
    rows.at_most("sodium_total", taken, lost_mg, near=c.NEAR_SODIUM_MG)
    cap_g_per_h, spare_g = limits.max_carbohydrate_g_per_h, limits.carbohydrate_allowance_g
    rows.at_most("carbohydrate", transport.sum(axis=0), cap_g_per_h * stage_h, near=c.NEAR_CARBOHYDRATE_G)
    segments_g = cap_g_per_h * np.diff(inp.times_h) + spare_g
    rows.at_most("carbohydrate", transport, segments_g, near=c.NEAR_CARBOHYDRATE_G)
    rows.at_most("carbohydrate", hours @ transport, cap_g_per_h * width_h + spare_g, near=c.NEAR_CARBOHYDRATE_G)
    _limit_stomach(inp, programme)


def _limit_stomach(inp: BottlePlanInput, programme: Programme) -> None:
    """Stomach content under even drinking and first-order emptying is greatest at one end of each segment."""
    emptied = c.EMPTYING_PER_H * np.diff(inp.times_h)
    left_frac = (-np.expm1(-emptied) / emptied)[:, np.newaxis]
    content = programme.run(programme.columns.stomach, left_frac * programme.volume, kept_frac=np.exp(-emptied))
    programme.rows.at_most("stomach", content, inp.limits.max_stomach_l, near=c.NEAR_WATER_L)

"""The linear forms behind a plan."""

import numpy as np
import pytest
from brinebook.engine.plan.limits_gut import hour_windows_frac


def test_the_fullest_hour_of_even_segments_begins_or_ends_at_a_feed():
    times_h = np.array([0.0, 0.3, 1.5, 1.9, 3.0])
    amounts = np.array([0.3, 0.1, 0.5, 0.2])
    total = np.concatenate([[0.0], amounts.cumsum()])
    begins = np.linspace(0.0, 2.0, 2001)

    fullest = (hour_windows_frac(times_h) @ amounts).max()

    anywhere = np.interp(begins + 1.0, times_h, total) - np.interp(begins, times_h, total)
    assert fullest == pytest.approx(anywhere.max(), abs=1e-9)


def test_a_stage_shorter_than_an_hour_is_one_window():
    assert hour_windows_frac(np.array([0.0, 0.3, 0.7])).tolist() == [[1.0, 1.0]]

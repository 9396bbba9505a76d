"""Where a rider is fed on a stage: the feeds that are open, how many bottles at each, how likely the hand-up."""

import numpy as np
from numpy.typing import NDArray

from brinebook.engine.plan.feeding import hand_up_odds_frac
from brinebook.engine.plan.race_rules import is_feed_allowed
from brinebook.engine.stage.segments import SegmentTable
from brinebook.engine.units import FloatArray
from brinebook.planning.race_rules import feed_rules_of
from brinebook.records.edited import FeedingRules, FeedPoint, Stage

N_BOTTLES_PER_FEED = 2
N_BOTTLES_AT_A_HOT_START = 3
N_BOTTLES_AGAINST_THE_CLOCK = 1
HOT_FROM_C = 25.0
MAX_FEEDS = 9
START = FeedPoint(id="start", name="start", kind="start", km=0.0)


def is_open(stage: Stage, feed: FeedPoint, finish_km: float) -> bool:
    """Say whether the rules of the day, the jury and the race book let anybody be fed at a place."""
    own = stage.feeding or FeedingRules()
    if is_against_the_clock(stage) and not own.is_time_trial_fed:
        return False
    if feed.kind == "start" or any(span.from_km <= feed.km <= span.to_km for span in own.closed):
        return False
    return is_feed_allowed(feed_rules_of(stage), km=feed.km, kind=feed.kind, length_km=finish_km)


def is_against_the_clock(stage: Stage) -> bool:
    """Say whether a stage is a time trial of either kind."""
    return stage.kind in {"time_trial", "mountain_time_trial"}


def feeds_of(stage: Stage, finish_km: float) -> tuple[FeedPoint, ...]:
    """
    Return the open feeds in order of the road, the start first.

    Where they are many, every second car window goes; feeds at one place are one.
    """
    start = next((feed for feed in stage.feed_points if feed.kind == "start"), START)
    later = {
        feed.km: feed for feed in sorted(stage.feed_points, key=lambda feed: (feed.kind == "zone", feed.id))
        if 0.0 < feed.km < finish_km and is_open(stage, feed, finish_km)
    }
    zones = [feed for feed in later.values() if feed.kind == "zone"]
    cars = sorted((feed for feed in later.values() if feed.kind == "car"), key=_on_the_road)
    while cars and len(zones) + len(cars) >= MAX_FEEDS:
        cars = cars[1::2]
    return (start, *sorted(zones + cars, key=_on_the_road))


def _on_the_road(feed: FeedPoint) -> tuple[float, str]:
    return feed.km, feed.id


def hands_of(stage: Stage, segments: SegmentTable, n_feeds: int) -> NDArray[np.int64]:
    """Return the bottles taken at each feed: two cages, a third in the pocket at a hot start, one against the clock."""
    hands = np.full(n_feeds, N_BOTTLES_PER_FEED)
    if is_against_the_clock(stage):
        hands[0] = N_BOTTLES_AGAINST_THE_CLOCK
    elif float(segments.air_temperature_c.max()) >= HOT_FROM_C:
        hands[0] = N_BOTTLES_AT_A_HOT_START
    return hands


def odds_of(feeds: tuple[FeedPoint, ...], segments: SegmentTable) -> FloatArray:
    """Return how likely each hand-up succeeds, by who hands up and what the road does there."""
    finish_km = float(segments.end_km[-1])
    places = np.clip(np.searchsorted(segments.end_km, [feed.km for feed in feeds]), 0, len(segments.end_km) - 1)
    return np.array([
        hand_up_odds_frac(feed.kind, km=feed.km, finish_km=finish_km, slope_frac=float(segments.slope_frac[place]))
        for feed, place in zip(feeds, places, strict=True)
    ])

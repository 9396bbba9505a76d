"""How good the forecasts were: settled losses beside the quantiles that were forecast before each stage."""

from collections.abc import Iterable

import msgspec
import numpy as np

from brinebook.engine.settle.audit import coverage_of_ranks, forecast_audit
from brinebook.planning.basis import basis_of
from brinebook.planning.books import digest
from brinebook.records.derived import AuditRider, AuditRow, ForecastAudit, Settlement

AUDIT_ID = "forecast_audit:team"


def audit_record(settlements: Iterable[Settlement]) -> ForecastAudit | None:
    """Grade the forecasts of all settled stages whose scales are believed; None while there is none."""
    graded = sorted(
        (one for one in settlements if one.state == "settled" and one.deficit_l is not None),
        key=lambda one: (one.stage_number, one.rider_id),
    )
    columns = [(one.predicted_q10_l, one.predicted_q50_l, one.predicted_q90_l, one.sweat_loss_l) for one in graded]
    if not columns:
        return None
    q10_l, q50_l, q90_l, settled_l = np.array(columns, dtype=np.float64).T
    audit = forecast_audit(q10_l, q50_l, q90_l, settled_l)
    whole = coverage_of_ranks(_ranks(graded))
    return ForecastAudit(
        id=AUDIT_ID,
        basis=basis_of(*(f"{one.id}#{digest(msgspec.json.encode(one))}" for one in graded)),
        n_settled=len(graded),
        bias_l=audit.bias_l,
        mean_absolute_error_l=audit.mean_absolute_error_l,
        coverage_80_frac=audit.coverage_80_frac,
        coverage_50_frac=whole.coverage_50_frac,
        coverage_95_frac=whole.coverage_95_frac,
        mean_rank_frac=whole.mean_rank_frac,
        by_rider=[_of_rider([one for one in graded if one.rider_id == rider_id])
                  for rider_id in sorted({one.rider_id for one in graded})],
        rows=[
            AuditRow(one.rider_id, one.stage_number, float(q50_l[index]), float(settled_l[index]),
                     bool(q10_l[index] <= settled_l[index] <= q90_l[index]))
            for index, one in enumerate(graded)
        ],
    )


def _ranks(graded: list[Settlement]) -> list[float]:
    """Return where each loss lay in its forecast; a record of an older engine without one counts as in the middle."""
    return [0.5 if one.forecast_rank_frac is None else one.forecast_rank_frac for one in graded]


def _of_rider(graded: list[Settlement]) -> AuditRider:
    """Grade one rider's forecasts."""
    columns = [(one.predicted_q10_l, one.predicted_q50_l, one.predicted_q90_l, one.sweat_loss_l) for one in graded]
    audit = forecast_audit(*np.array(columns, dtype=np.float64).T)
    covered = coverage_of_ranks(_ranks(graded))
    return AuditRider(
        rider_id=graded[0].rider_id, n_settled=len(graded), bias_l=audit.bias_l,
        mean_absolute_error_l=audit.mean_absolute_error_l, coverage_50_frac=covered.coverage_50_frac,
        coverage_80_frac=audit.coverage_80_frac, coverage_95_frac=covered.coverage_95_frac,
        mean_rank_frac=covered.mean_rank_frac,
    )

"""How good the forecasts were: settled losses beside the quantiles that were forecast before each stage."""

from collections.abc import Iterable

import msgspec
import numpy as np

from brinebook.engine.settle.audit import forecast_audit
from brinebook.planning.basis import basis_of
from brinebook.planning.books import digest
from brinebook.records.derived import AuditRow, ForecastAudit, Settlement

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
    return ForecastAudit(
        id=AUDIT_ID,
        basis=basis_of(*(f"{one.id}#{digest(msgspec.json.encode(one))}" for one in graded)),
        n_settled=len(graded),
        bias_l=audit.bias_l,
        mean_absolute_error_l=audit.mean_absolute_error_l,
        coverage_80_frac=audit.coverage_80_frac,
        rows=[
            AuditRow(one.rider_id, one.stage_number, float(q50_l[index]), float(settled_l[index]),
                     bool(q10_l[index] <= settled_l[index] <= q90_l[index]))
            for index, one in enumerate(graded)
        ],
    )

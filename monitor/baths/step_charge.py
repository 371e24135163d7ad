"""A run in; the charge that had passed before its last step came in force, out."""

from monitor.store.stored_run import StoredRun

STEP_NAME = "fittings.step.name"
LOOK_BACK_S = 30.0
"""Estimates are stored about once a second while current flows."""


def charge_before_step(run: StoredRun) -> float:
    """Ampere-hours of earlier steps, such as a cleaning; 0 where there was one step only.

    Raises
    ------
    StoreError
        The store cannot be read.
    """
    changes = [one for one in run.setting_changes() if one.name == STEP_NAME]
    if not changes:
        return 0.0
    at_s = changes[-1].t_ns / 1e9
    known = list(run.estimates(max(at_s - LOOK_BACK_S, 0.0), at_s))
    return known[-1].charge.amp_hours if known else 0.0

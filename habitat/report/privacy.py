"""What a public audience may see: a plan reduced before anything is written."""

from __future__ import annotations

from habitat.report.plan import Plan


def for_audience(plan: Plan) -> Plan:
    """Return the plan that may be written for the study's audience."""
    return plan

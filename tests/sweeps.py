"""A small convex blade from the bar on a machine whose tilt's axis is known, for tests."""

from __future__ import annotations

from typing import Any

from planner.inputs.job import Job
from planner.inputs.machine import Machine
from tests.samples import GONE, a_job, a_machine
from tests.test_operations import FLAT, WHEEL

EDGE_DEG, SHOULDER_DEG = 24.0, 12.0
HALF_STOCK, HALF_EDGE = 0.5, 0.1
SECTION = {
    "form": "convex_bevel",
    "thickness": f"{2 * HALF_STOCK} mm",
    "width": "14 mm",
    "edge_thickness": f"{2 * HALF_EDGE} mm",
    "edge_angle": f"{2 * EDGE_DEG} deg",
    "shoulder_angle": f"{2 * SHOULDER_DEG} deg",
}
AXIS = (9.0, -11.0)


def convex(ridge: str = "0.004 mm", wheel: str = "flat", **changes: Any) -> Job:
    """The blade; its relief is shallow, for that is not what is tested."""
    do = [{"do": "bevel", "wheel": wheel, "ridge": ridge}, {"do": "relief", "wheel": "fine"}]
    base = {
        "blade__section": SECTION,
        "wheel": GONE,
        "relief__edge_land": "0.3 mm",
        "relief__shoulder_land": GONE,
        "relief__depth": "0.004 mm",
        "relief__land_tolerance": "0.4 mm",
        "relief__share_in_tolerance": 0,
    }
    return a_job(**{**base, **changes}, operations=do)


def shop(**changes: Any) -> Machine:
    """The machine: a fine tilt, flood, and stiff, so that passes are few."""
    return a_machine(
        **{
            "rack": [WHEEL, {**FLAT, "infeed": {"rough": "0.03 mm", "finish": "0.006 mm"}}],
            "stiffness": "6000 N/mm",
            "coolant": {"kind": "flood", "on": "M8", "off": "M9"},
            "axes__A__repeatability": "0.002 deg",
            "axes__A__resolution": "0.001 deg",
            "axes__Z__travel": ["-30 mm", "90 mm"],
            "fixture__tilt_axis": {"at": [f"{x} mm" for x in AXIS], "error": "0.005 mm"},
            **changes,
        }
    )

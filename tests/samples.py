"""The job and machine that the tests vary, as plain data and as models."""

from __future__ import annotations

import copy
from typing import Any

from planner.inputs.job import Job
from planner.inputs.machine import Machine

JOB: dict[str, Any] = {
    "title": "Test knife",
    "steel": "O1",
    "temper": "190 degC",
    "quantity": 1,
    "machine": "machine.yaml",
    "wheel": "fine",
    "blade": {
        "edge": {"path": "straight", "length": "80 mm"},
        "section": {
            "form": "double_bevel",
            "thickness": "3.0 mm",
            "width": "20 mm",
            "included_angle": "25 deg",
        },
    },
    "relief": {
        "faces": "both",
        "edge_land": "1.2 mm",
        "shoulder_land": "1.4 mm",
        "land_tolerance": "0.25 mm",
    },
}

MACHINE: dict[str, Any] = {
    "title": "Test grinder",
    "kind": "wheel",
    "controller": {"dialect": "rs274ngc", "units": "mm", "decimals": 4},
    "axes": {
        "X": {
            "role": "traverse",
            "travel": ["-150 mm", "250 mm"],
            "max_feed": "4000 mm/min",
            "acceleration": "400 mm/s2",
        },
        "Y": {
            "role": "cross",
            "travel": ["-40 mm", "40 mm"],
            "max_feed": "1500 mm/min",
            "acceleration": "200 mm/s2",
        },
        "Z": {
            "role": "infeed",
            "travel": ["-5 mm", "60 mm"],
            "max_feed": "800 mm/min",
            "acceleration": "150 mm/s2",
            "resolution": "0.001 mm",
            "repeatability": "0.003 mm",
        },
        "A": {
            "role": "tilt",
            "travel": ["-95 deg", "95 deg"],
            "max_feed": "1200 deg/min",
            "acceleration": "300 deg/s2",
        },
    },
    "spindle": {"speed": "2850 rpm", "power": "0.75 kW", "control": "program", "spin_up": "5 s"},
    "stiffness": "2000 N/mm",
    "coolant": {"kind": "mist", "on": "M7", "off": "M9"},
    "fixture": {
        "flip": "end_for_end",
        "run_off": "10 mm",
        "clearance": "5 mm",
        "touch_off": "0.003 mm",
    },
    "limits": {"normal_force": "30 N"},
    "rack": [
        {
            "name": "fine",
            "contact": "along_edge",
            "diameter": "150 mm",
            "width": "20 mm",
            "marked_speed": "4500 rpm",
            "abrasive": "aluminium_oxide",
            "grit": "F80",
            "specific_energy": "40 J/mm3",
            "force_ratio": 0.4,
            "g_ratio": 20,
            "infeed": {"rough": "0.010 mm", "finish": "0.003 mm"},
        }
    ],
}

_GONE = object()
GONE: Any = _GONE
"""A change to this removes the key."""


def changed(data: dict[str, Any], changes: dict[str, Any]) -> dict[str, Any]:
    """A deep copy with dotted key paths changed; list items by number."""
    result = copy.deepcopy(data)
    # The values too: a later path may change what an earlier one brought.
    for path, given in changes.items():
        value = given if given is _GONE else copy.deepcopy(given)
        *parents, last = path.split(".")
        at: Any = result
        for key in parents:
            at = at[int(key)] if isinstance(at, list) else at.setdefault(key, {})
        if value is _GONE:
            at.pop(last, None)
        elif isinstance(at, list):
            at[int(last)] = value
        else:
            at[last] = value
    return result


def a_job(**changes: Any) -> Job:
    """The test job with some keys changed; ``__`` stands for the dot of a key path."""
    return Job.model_validate(changed(JOB, {k.replace("__", "."): v for k, v in changes.items()}))


def a_machine(**changes: Any) -> Machine:
    """The test machine with some keys changed; ``__`` stands for the dot of a key path."""
    paths = {k.replace("__", "."): v for k, v in changes.items()}
    return Machine.model_validate(changed(MACHINE, paths))

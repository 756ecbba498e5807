"""The job, the machines and the hand-written programs that the proof's tests start from."""

from __future__ import annotations

import copy
from collections.abc import Mapping
from pathlib import Path
from typing import Any, ClassVar

import pytest

from planner.inputs.job import Job
from planner.inputs.machine import Machine
from planner.proof.prove import Verdict, prove_program

DATA = Path(__file__).parent / "data"

JOB: dict[str, Any] = {
    "title": "Straight carving knife",
    "steel": "O1",
    "blade": {
        "edge": {"path": "straight", "length": "80 mm"},
        "section": {
            "form": "double_bevel",
            "thickness": "3.0 mm",
            "width": "20 mm",
            "included_angle": "25 deg",
            "edge_thickness": "0 mm",
        },
    },
    "relief": {
        "faces": "both",
        "edge_land": "1.2 mm",
        "shoulder_land": "1.4 mm",
        "land_tolerance": "0.25 mm",
    },
}

MILL: dict[str, Any] = {
    "title": "Converted surface grinder",
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
        },
        "A": {
            "role": "tilt",
            "travel": ["-45 deg", "45 deg"],
            "max_feed": "1200 deg/min",
            "acceleration": "300 deg/s2",
        },
        "C": {
            "role": "turn",
            "travel": ["-45 deg", "45 deg"],
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
        "jaws": {"from_edge": "12 mm", "above_flank": "1 mm", "past_ends": "5 mm"},
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
            "infeed": {"rough": "0.010 mm", "finish": "0.003 mm"},
        },
    ],
}

SMALL: dict[str, Any] = {
    "title": "Belt grinder on a two-axis slide",
    "kind": "belt",
    "controller": {"dialect": "small", "units": "mm", "decimals": 3},
    "axes": {
        "X": {
            "role": "traverse",
            "travel": ["-120 mm", "260 mm"],
            "max_feed": "3000 mm/min",
            "acceleration": "250 mm/s2",
        },
        "Z": {
            "role": "infeed",
            "travel": ["0 mm", "60 mm"],
            "max_feed": "600 mm/min",
            "acceleration": "100 mm/s2",
            "invert": True,
            "zero_at": "50 mm",
        },
    },
    "spindle": {"speed": "1400 rpm", "power": "1.1 kW", "control": "by_hand", "spin_up": "4 s"},
    "stiffness": "500 N/mm",
    "coolant": {"kind": "flood", "on": "M8", "off": "M9"},
    "fixture": {
        "flip": "over",
        "run_off": "15 mm",
        "clearance": "8 mm",
        "hand_tilt": {"range": ["-30 deg", "30 deg"], "resolution": "2 deg"},
    },
    "limits": {"normal_force": "40 N"},
    "rack": [
        {
            "name": "P120 belt",
            "contact": "along_edge",
            "diameter": "40 mm",
            "width": "25 mm",
            "marked_speed": "20 m/s",
            "abrasive": "ceramic",
            "grit": "P120",
            "specific_energy": "20 J/mm3",
            "force_ratio": 0.5,
            "infeed": {"rough": "0.020 mm", "finish": "0.005 mm"},
            "belt": {"thickness": "1.0 mm", "drive_diameter": "150 mm"},
        },
    ],
}

ROW_CHANGES: dict[str, Any] = {
    "axes.X.travel": ["-150 mm", "450 mm"],
    "fixture.row": {"positions": ["0 mm", "110 mm", "220 mm", "330 mm"]},
}
INCH_CHANGES = {"controller.units": "inch", "spindle.direction": "counterclockwise"}


def changed(data: dict[str, Any], changes: dict[str, Any]) -> dict[str, Any]:
    """A deep copy with dotted key paths set; a number in a path is a place in a list."""
    result = copy.deepcopy(data)
    for path, value in changes.items():
        *parents, last = path.split(".")
        at: Any = result
        for key in parents:
            at = at[int(key)] if isinstance(at, list) else at[key]
        at[last] = value
    return result


MACHINES = {
    "mill-A.ngc": Machine.model_validate(MILL),
    "mill-A-air.ngc": Machine.model_validate(MILL),
    "small-B.ngc": Machine.model_validate(SMALL),
    "inch-B.ngc": Machine.model_validate(changed(MILL, INCH_CHANGES)),
    "row-A.ngc": Machine.model_validate(changed(MILL, ROW_CHANGES)),
}


class Proving:
    """Proves texts in place of a sample, with changed jobs and machines."""

    machines: ClassVar[dict[str, Machine]] = MACHINES
    names: ClassVar[tuple[str, ...]] = tuple(MACHINES)

    @staticmethod
    def text(name: str) -> str:
        """The text of a hand-written program."""
        return (DATA / name).read_text(encoding="ascii")

    @staticmethod
    def job(**changes: Any) -> Job:
        """The job with some keys changed; ``__`` in a name stands for the dot of a path."""
        paths = {k.replace("__", "."): v for k, v in changes.items()}
        return Job.model_validate(changed(JOB, paths))

    @staticmethod
    def machine(name: str, changes: Mapping[str, Any]) -> Machine:
        """The machine of a sample with some dotted key paths changed."""
        data = SMALL if name.startswith("small") else MILL
        own = {"inch": dict[str, Any](INCH_CHANGES), "row-": ROW_CHANGES}.get(name[:4], {})
        return Machine.model_validate(changed(data, {**own, **changes}))

    def __call__(
        self,
        name: str,
        text: str | bytes,
        *,
        job: Job | None = None,
        machine: Machine | None = None,
        **arguments: Any,
    ) -> Verdict:
        """The verdict on a text, one character a byte, in place of the named sample."""
        data = text if isinstance(text, bytes) else text.encode("latin-1")
        return prove_program(data, job or self.job(), machine or MACHINES[name], **arguments)


@pytest.fixture(params=tuple(MACHINES))
def sample_name(request: pytest.FixtureRequest) -> str:
    """The name of each sample in turn."""
    name: str = request.param
    return name


@pytest.fixture(scope="session")
def prove() -> Proving:
    """``prove(name, text)`` is the verdict on a text in place of the named sample."""
    return Proving()

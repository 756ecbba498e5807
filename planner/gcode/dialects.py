"""What each controller class takes, as data. Facts: docs/controllers.md."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Dialect:
    """One controller class."""

    name: str
    preamble: tuple[str, ...]
    """Modal safety lines after the units line; ``{path}`` is the path tolerance."""
    axis_letters: str
    mist: bool
    """Whether M7 exists."""


DIALECTS = {
    "rs274ngc": Dialect(
        name="rs274ngc",
        preamble=("G17 G90 G94", "G40 G49 G80", "G54", "G64 P{path}"),
        axis_letters="XYZABC",
        mist=True,
    ),
    "small": Dialect(
        name="small",
        preamble=("G17 G90 G94", "G40 G49 G80", "G54"),
        axis_letters="XYZ",
        mist=False,
    ),
}

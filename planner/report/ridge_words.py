"""Lines and facets in words: how many, how far apart, and how high the ridges between them."""

from __future__ import annotations

from itertools import pairwise

from planner.section.bulge_work import BulgeWork, FacetWork
from planner.section.sweep_work import SweepWork
from planner.setup_plan import Setup


def about_ridges(setup: Setup) -> str:
    """Of a set-up in lines, or of one flat of a bevel in facets."""
    work, wanted = setup.work, (setup.work.ridge_mm or 0.0) * 1000
    if isinstance(work, SweepWork):
        return f"{_about_sweep(setup, work)} {stray_words(setup)}"
    if isinstance(work, FacetWork):
        return (
            f"A flat at {work.face.angle_deg:.3f} deg to the middle of the blade, "
            f"{work.facet.width_mm:.3f} mm wide until the next is ground: wheel {work.wheel.name} "
            f"is flat, so the bevel is made in facets. The ridges between them stand "
            f"{work.ridge_reached_mm * 1000:.1f} µm over the arc, {wanted:.1f} µm may."
        )
    places = sorted({p.along_mm for p in setup.passes})
    gaps = [after - before for before, after in pairwise(places)]
    # Rounded to steps, a line is not at one place in every layer.
    count = 1 + sum(gap > max(gaps) / 2 for gap in gaps)
    if isinstance(work, BulgeWork):
        lines = [line.along_mm for line in work.line_arc.lines()]
        apart = (lines[-1] - lines[0]) / (len(lines) - 1)
        return (
            f"In {len(lines)} lines, the wheel {apart:.3f} mm from one to the next, over an arc of "
            f"{work.line_arc.radius_mm:.2f} mm radius: wheel {work.wheel.name} leaves an arc and "
            f"the cross is powered, so the bevel is made in lines at one tilt. The ridges between "
            f"them stand {work.ridge_reached_mm * 1000:.1f} µm over the arc, {wanted:.1f} µm may."
        )
    apart = (places[-1] - places[0]) / max(count - 1, 1)
    return (
        f"In {count} lines, the wheel {apart:.3f} mm from one to the next, on an arc of "
        f"{work.section.wheel_radius_mm:.2f} mm radius: the ridges between them stand at most "
        f"{wanted:.1f} µm."
    )


def _about_sweep(setup: Setup, work: SweepWork) -> str:
    assert setup.sweep is not None
    angles = [stand.work.face.angle_deg for stand in setup.sweep.stands]
    count = "One flat" if len(angles) == 1 else f"{len(angles)} flats"
    return (
        f"{count} at {angles[0]:.3f} to {angles[-1]:.3f} deg to the middle of the blade, edge "
        f"first, all from one touch-off: wheel {work.wheel.name} is flat and the tilt's axis is "
        f"known, so the program sweeps the tilt from one to the next, the wheel "
        f"{setup.sweep.clear_mm:.2f} mm above zero and off the end. The ridges between them stand "
        f"{work.ridge_reached_mm * 1000:.1f} µm over the arc, {(work.ridge_mm or 0.0) * 1000:.1f} "
        "µm may."
    )


def stray_words(setup: Setup) -> str:
    """How far the facet that strays most does, and by what."""
    worst = max(setup.facet_spreads, key=lambda s: s.sd_mm / s.tolerance_mm)
    return (
        f"Facet {worst.facet + 1} strays most, by {worst.sd_mm * 1000:.1f} µm in depth (one sigma: "
        f"{worst.touch_mm * 1000:.1f} of touch-off and infeed, {worst.tilt_mm * 1000:.1f} of the "
        f"tilt, {worst.axis_mm * 1000:.1f} of the place of its axis); {worst.share:.1%} of blades "
        f"have it within {worst.tolerance_mm * 1000:.1f} µm."
    )

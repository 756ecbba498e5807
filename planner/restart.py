"""Going on from a later pass of a set-up that was broken off, with the same wheel or a new one."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

from planner.batch.wear import diameters_that_hold
from planner.errors import Fact, Refusal, RefusedError, WayOut
from planner.kinematics.sizes_held import arc_diameters_mm
from planner.passes.worn import WornRun
from planner.plan import Plan
from planner.setup_plan import Setup


@dataclass(frozen=True)
class Restart:
    """What the program that goes on is made from."""

    setup: Setup
    from_pass: int
    new_wheel: bool
    """Whether the wheel or belt was changed, so that the zero is touched off anew."""
    compensation_mm: tuple[float, ...]
    """For every pass of the set-up; those before ``from_pass`` are not used."""
    feeds_mm_min: tuple[float, ...]
    """Likewise; slower than in the whole program only where a new wheel takes too much."""
    worn_before_mm: float
    """Radius lost since the touch-off that holds, before this blade."""
    bared_depth_mm: float
    """Depth reached so far: there a wheel of this radius bares, in the middle of the relief."""
    bared_along_mm: float
    """Where that is, along the face from the middle of the relief; not 0 only in lines."""
    bared_larger_mm: float
    """The same for a wheel of 1 mm more diameter: it bares on the two rims of the hollow."""
    diameters_mm: tuple[float, float]
    """Over all, belt counted: what a new wheel may measure if the lands are to hold."""
    shoulder_land_from_middle_mm: float
    """From the middle of the relief to the middle of the finished shoulder land."""
    time_s: float
    """Of the whole program, hands not counted."""

    def position(self, depth_mm: float) -> tuple[float, float]:
        """Infeed and cross where a wheel that bares at a depth stands."""
        if self.setup.sweep is not None:
            return self.setup.position(self.setup.passes[self.from_pass - 1], depth_mm)
        return self.setup.frame.position(depth_mm, self.bared_along_mm)

    @property
    def tilt_deg(self) -> float:
        """The tilt at which the program goes on, and a wheel is touched off."""
        sweep = self.setup.sweep
        if sweep is None:
            return self.setup.frame.tilt_deg
        return sweep.stand(self.setup.passes[self.from_pass - 1].facet).tilt_deg

    @property
    def program(self) -> str:
        """File name of the cutting program."""
        return f"setup-{self.setup.name}{self.setup.which_stations}-from-{self.from_pass}.ngc"


def restart_at(plan: Plan, setup: Setup, from_pass: int, *, new_wheel: bool) -> Restart:
    """Go on from a pass, all before it whole.

    A new wheel has worn off nothing since its touch-off. Without one, everything is as in the
    whole program.

    Raises: ValueError when ``from_pass`` is not between 2 and the last pass; RefusedError where a
    new wheel, which stands where the worn one stood back, would break a limit.
    """
    if not 2 <= from_pass <= len(setup.passes):
        raise ValueError(f"from_pass: {from_pass} is not between 2 and {len(setup.passes)}")
    wheel = setup.work.wheel
    done = from_pass - 1
    made_up, worn_before = setup.compensation_mm, setup.worn_before_mm
    feeds = tuple(p.feed_mm_min for p in setup.passes)
    if new_wheel:
        anew = setup.followed_anew(done)
        if anew.over:
            raise _too_heavy(setup, from_pass, anew)
        made_up, worn_before = (*made_up[:done], *anew.made_up_mm[done:]), 0.0
        feeds = (*feeds[:done], *anew.feeds_mm_min[done:])
    # In lines the deepest so far, wherever it lies; elsewhere that is the last.
    reached = setup.worn.reached_mm[:done]
    deepest = max(range(done), key=lambda n: (reached[n], n))
    bared = max(reached[deepest], 0.0)
    if setup.sweep is not None:
        deepest, bared = done - 1, _bared_swept_mm(setup, from_pass)
    lens = plan.section.lens(setup.relief.face)
    hollow = lens.chord_of_depth(min(bared, lens.deepest_mm))
    tolerance = plan.job.model.relief.land_tolerance_mm
    low, high, larger = 0.0, 0.0, bared  # a flat wheel may have any diameter
    if setup.work.operation == "relief":
        straight = diameters_that_hold(wheel, plan.section, setup.relief, tolerance)
        low, high = arc_diameters_mm(wheel, straight, plan.sizes_held)
        larger_wheel = replace(lens, wheel_radius_mm=lens.wheel_radius_mm + 0.5)
        larger = float(larger_wheel.depth_of_chord(hollow))
    belt_mm = 0.0 if wheel.belt is None else 2.0 * wheel.belt.thickness_mm
    before = sum(p.time_s for p in setup.passes[:done])
    traverse_s = setup.heated.cutting.traverse_time_s
    slower = sum(
        traverse_s(feed) - traverse_s(p.feed_mm_min)
        for feed, p in zip(feeds[done:], setup.passes[done:], strict=True)
    )
    waited = sum(p.seconds for p in setup.marched.pauses[:done] if p is not None)
    return Restart(
        setup=setup,
        from_pass=from_pass,
        new_wheel=new_wheel,
        compensation_mm=made_up,
        feeds_mm_min=feeds,
        worn_before_mm=worn_before,
        bared_depth_mm=bared,
        bared_along_mm=setup.passes[deepest].along_mm,
        bared_larger_mm=larger,
        diameters_mm=(low + belt_mm, high + belt_mm),
        shoulder_land_from_middle_mm=(setup.relief.chord_mm + setup.relief.shoulder_land_mm) / 2.0,
        time_s=setup.time_s - before - waited + slower,
    )


def _bared_swept_mm(setup: Setup, from_pass: int) -> float:
    """How far below the corner of the stock a flat bares at the tilt of the pass that it goes on
    with, along that facet's normal: on that facet, or on the corner that the one before left."""
    assert setup.sweep is not None
    last, following = (setup.sweep.stand(p.facet) for p in setup.passes[from_pass - 2 : from_pass])
    reached = max(setup.worn.reached_mm[from_pass - 2], 0.0)
    before, here = (stand.work.face.angle_rad for stand in (last, following))
    # The corner lies on the flank, r / sin from that of the stock, and so r sin' / sin below it.
    return reached * math.sin(here) / math.sin(before)


def _too_heavy(setup: Setup, from_pass: int, anew: WornRun) -> RefusedError:
    """The refusal of a new wheel that bites too much where the old one stood back."""
    others = [
        number
        for number in range(2, len(setup.passes) + 1)
        if number != from_pass and not setup.followed_anew(number - 1).over
    ]
    before = from_pass - 2
    facts: dict[str, Fact] = {
        "from_pass": from_pass,
        "setup": setup.name,
        "stood_back_mm": setup.worn.worn_mm[before] - setup.compensation_mm[before],
        "limit": anew.over,
    }
    ways = []
    if others:
        ways.append(WayOut("from-other-pass", {"passes": ", ".join(str(n) for n in others)}))
    return RefusedError([Refusal("new-wheel-too-heavy", facts, (*ways, WayOut("same-wheel")))])

"""A bevel that bulges in facets that one set-up grinds, the tilt swept from one to the next.

See docs/operations.md, "A swept tilt". To what looks at a set-up as a whole it is its first facet,
which bares on the corner of the stock; ``facets`` has every one.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, fields
from functools import cached_property
from itertools import groupby

import numpy as np
from numpy.typing import NDArray

from planner.formulas.removal import Removal
from planner.formulas.segment import Result
from planner.section.bulge_work import FacetWork
from planner.section.work import FaceState, FaceWork, Floats


@dataclass(frozen=True, eq=False, kw_only=True)
class SweepWork(FacetWork):
    """All flats of one face; by itself the first of them."""

    facets: tuple[FacetWork, ...]
    """From the edge to the shoulder, each on the corner that the one before leaves."""

    @property
    def deepest_mm(self) -> float:
        """The deepest that a flat lies below the corner of the stock, along its own normal."""
        return max(below_stock_mm(each) for each in self.facets)

    @property
    def ground_width_mm(self) -> float:
        """Of the widest flat as it is ground."""
        return max(each.ground_width_mm for each in self.facets)

    @property
    def half_edge_mm(self) -> float:
        """The first flat makes it."""
        return self.facet.at_edge_mm

    @property
    def wearing_width_mm(self) -> float:
        """Width that would wear by as much as every flat does over its own."""
        areas = [float(f.removal.area_mm2(np.array(f.depth_mm))) for f in self.facets]
        widths = [each.wearing_width_mm for each in self.facets]
        return sum(areas) / sum(a / w for a, w in zip(areas, widths, strict=True))


def with_sweeps(works: Sequence[FaceWork]) -> list[FaceWork]:
    """The same works, all facets of a face as one."""
    found: list[FaceWork] = []
    for _, of_face in groupby(works, key=lambda work: work.relief.face):
        own = list(of_face)
        facets = tuple(work for work in own if isinstance(work, FacetWork))
        if not facets:
            found += own
            continue
        first = {f.name: getattr(facets[0], f.name) for f in fields(FacetWork)}
        found.append(SweepWork(**{**first, "after": facets[-1].after, "facets": facets}))
    return found


def below_stock_mm(work: FacetWork) -> float:
    """How deep a flat lies below the corner of the stock, along its normal."""
    flat = work.face
    return float((flat.stock_mm - flat.at_edge_mm) * np.cos(flat.angle_rad))


@dataclass(frozen=True, eq=False, kw_only=True)
class SweepCourse(FaceWork):
    """The blade while flat after flat is ground, for its heat: one depth runs through them all.

    A flat that begins where those before it, each as deep as it is, come to s is d deep at s + d.
    """

    facets: tuple[FacetWork, ...]

    @cached_property
    def begins_mm(self) -> tuple[float, ...]:
        """Where each flat begins."""
        return tuple(np.cumsum([0.0, *(f.depth_mm for f in self.facets[:-1])]).tolist())

    @property
    def depth_mm(self) -> float:
        """Of all flats together."""
        return sum(each.depth_mm for each in self.facets)

    @property
    def from_corner(self) -> bool:
        """Every flat begins on a corner."""
        return True

    @property
    def removal(self) -> Removal:
        """Area and width at that depth."""
        return _CourseRemoval(self)

    def state(self, depth_mm: float) -> FaceState:
        """The face at that depth."""
        which, own = self._own(np.array(depth_mm))
        return self.facets[int(which)].state(float(own))

    def thickness(self, y_mm: Floats, depth_mm: float) -> Floats:
        """Thickness across z at that depth. Shape: (n,) -> (n,)."""
        which, own = self._own(np.array(depth_mm))
        return self.facets[int(which)].thickness(y_mm, float(own))

    def contact_y_mm(self, depth_mm: Floats) -> tuple[Floats, Floats]:
        """From where to where the wheel touches at that depth, as y. Shape: the depth's."""
        low, high = self._each(depth_mm, lambda facet, own: np.stack(facet.contact_y_mm(own)), 2)
        return low, high

    def plate_mm(self, depth_mm: Floats) -> Floats:
        """Thickness before its own flat, under the middle of it. Shape: that of the depth."""
        return np.asarray(
            self._each(
                depth_mm, lambda facet, own: np.full_like(own, facet.plate_mm(own))[np.newaxis], 1
            )[0]
        )

    def _own(self, depth_mm: Floats) -> tuple[NDArray[np.intp], Floats]:
        """Which flat, and its own depth."""
        begins = np.array(self.begins_mm)
        after = np.searchsorted(begins, depth_mm, side="left")
        which = np.asarray(np.clip(after - 1, 0, len(begins) - 1))
        return which, np.asarray(depth_mm - begins[which])

    def _each(
        self, depth_mm: Floats, of: Callable[[FacetWork, Floats], Floats], count: int
    ) -> Floats:
        """What each flat says of the depths that are its own. Shape: (count, *the depth's)."""
        which, own = self._own(np.asarray(depth_mm, float))
        found = np.empty((count, *np.shape(own)))
        for number, facet in enumerate(self.facets):
            mine = which == number
            if np.any(mine):
                found[..., mine] = of(facet, own[mine])
        return found


@dataclass(frozen=True, eq=False)
class _CourseRemoval:
    """What is taken at the depth that runs through all flats."""

    course: SweepCourse

    @property
    def deepest_mm(self) -> float:
        """The whole depth."""
        return self.course.depth_mm

    def area_mm2(self, depth_mm: Result) -> Result:
        """Area down to a depth. Shape: any."""
        areas = [float(f.removal.area_mm2(np.array(f.depth_mm))) for f in self.course.facets]
        before = np.cumsum([0.0, *areas[:-1]])
        which, _ = self.course._own(np.asarray(depth_mm, float))
        own = self.course._each(depth_mm, lambda f, d: f.removal.area_mm2(d)[np.newaxis], 1)[0]
        return np.asarray(before[which] + own)

    def width_mm(self, depth_mm: Result) -> Result:
        """Width of the contact at a depth. Shape: any."""
        widths = self.course._each(depth_mm, lambda f, d: f.removal.width_mm(d)[np.newaxis], 1)
        return np.asarray(widths[0])


def course_of(work: SweepWork, facets: Sequence[FacetWork]) -> SweepCourse:
    """The course of flats as they are really ground."""
    return SweepCourse(
        name=work.name,
        operation=work.operation,
        wheel=work.wheel,
        section=work.section,
        relief=work.relief,
        before=work.before,
        after=work.after,
        other=work.other,
        wheel_radius_mm=None,
        flat_place_mm=work.flat_place_mm,
        curvature_per_mm=work.curvature_per_mm,
        ridge_mm=work.ridge_mm,
        facets=tuple(facets),
    )

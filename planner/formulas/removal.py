r"""How much steel a wheel takes at a depth, for each shape of what it grinds.

A is the area removed in the section from first contact to depth h, W = dA/dh the width of the
contact. All three shapes widen with depth, so A is hollow upwards: the spring balance
(planner/formulas/spring.py) relies on it.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Protocol

import numpy as np

from planner.formulas.lens import Lens
from planner.formulas.ranges import require
from planner.formulas.segment import Result, unchecked_area, unchecked_chord


class Removal(Protocol):
    """Area and width at a depth; the depth is not checked against ``deepest_mm``."""

    @property
    def deepest_mm(self) -> float:
        """The most that a depth may be."""
        ...

    def area_mm2(self, depth_mm: Result) -> Result:
        """Area removed down to a depth. Shape: any."""
        ...

    def width_mm(self, depth_mm: Result) -> Result:
        """Width of the contact at a depth, the slope of the area. Shape: any."""
        ...


@dataclass(frozen=True)
class SegmentRemoval:
    r"""A round wheel in a flat face: the segment of a circle.

    .. math:: A = \tfrac12 R^2(\theta - \sin\theta), \quad W = 2\sqrt{h(2R - h)}

    Range: R > 0, 0 <= h <= R. Raises: ValueError. Source: circle and chord
    (planner/formulas/segment.py).

    >>> float(SegmentRemoval(5.0).width_mm(np.array(2.0)))  # by hand: 2 sqrt(2 * 8)
    8.0
    """

    radius_mm: float

    def __post_init__(self) -> None:
        require("radius_mm", self.radius_mm, above=0.0)

    @property
    def deepest_mm(self) -> float:
        """The radius."""
        return self.radius_mm

    def area_mm2(self, depth_mm: Result) -> Result:
        """Area of the segment. Shape: any."""
        return unchecked_area(self.radius_mm, depth_mm)

    def width_mm(self, depth_mm: Result) -> Result:
        """Its chord. Shape: any."""
        return unchecked_chord(self.radius_mm, depth_mm)


@dataclass(frozen=True)
class LensRemoval:
    """A round wheel in a face that bulges: the lens between two arcs (planner/formulas/lens.py).

    Moved by dh along the normal the wheel's arc takes its chord times dh, so W is the chord.
    Range: 0 <= h <= ``deepest_mm``.
    """

    lens: Lens

    @property
    def deepest_mm(self) -> float:
        """Depth at which the smaller of the two circles is cut at its widest."""
        return self.lens.deepest_mm

    def area_mm2(self, depth_mm: Result) -> Result:
        """Area between the two arcs. Shape: any."""
        return self.lens.unchecked_area(depth_mm)

    def width_mm(self, depth_mm: Result) -> Result:
        """Its chord. Shape: any."""
        return self.lens.unchecked_chord(depth_mm)


@dataclass(frozen=True)
class CornerRemoval:
    r"""A flat wheel on the square corner of parallel stock, at the bevel angle β to its flank.

    .. math:: A = \frac{h^2}{2 \sin\beta\cos\beta}, \quad W = \frac{h}{\sin\beta\cos\beta}

    Range: 0 < β < π/2, h >= 0. Raises: ValueError. Source: right triangle of height h over its
    hypotenuse.

    >>> round(float(CornerRemoval(math.pi / 4, 9.0).area_mm2(np.array(2.0))), 9)  # h^2 at 45 deg
    4.0
    """

    bevel_rad: float
    deepest_mm: float

    def __post_init__(self) -> None:
        require("bevel_rad", self.bevel_rad, above=0.0, high=math.nextafter(math.pi / 2, 0.0))
        require("deepest_mm", self.deepest_mm, above=0.0)

    @property
    def _widening(self) -> float:
        return 1.0 / (math.sin(self.bevel_rad) * math.cos(self.bevel_rad))

    def area_mm2(self, depth_mm: Result) -> Result:
        """Area of the triangle. Shape: any."""
        return np.asarray(0.5 * self._widening * depth_mm * depth_mm)

    def width_mm(self, depth_mm: Result) -> Result:
        """Its hypotenuse. Shape: any."""
        return np.asarray(self._widening * depth_mm)


@dataclass(frozen=True)
class TipRemoval:
    r"""A flat wheel on any corner.

    .. math:: A = \tfrac12 w h^2, \quad W = w h, \quad h = \max(d - g, 0)

    w is the sum of the cotangents of the angles that its plane makes with the corner's two sides,
    g how far above the corner the depth d counts from.

    Range: w > 0, d >= 0, g >= 0. Raises: ValueError. Source: triangle of height h; on the square
    corner of stock this is ``CornerRemoval``.

    >>> float(TipRemoval(2.0, 9.0).area_mm2(np.array(3.0)))  # by hand: 6 wide and 3 high
    9.0
    >>> float(TipRemoval(2.0, 9.0, 1.0).width_mm(np.array(3.0)))  # by hand: 2 * (3 - 1)
    4.0
    """

    widening: float
    deepest_mm: float
    gap_mm: float = 0.0

    def __post_init__(self) -> None:
        require("widening", self.widening, above=0.0)
        require("deepest_mm", self.deepest_mm, above=0.0)
        require("gap_mm", self.gap_mm, low=0.0)

    def area_mm2(self, depth_mm: Result) -> Result:
        """Area of the triangle. Shape: any."""
        height = np.maximum(depth_mm - self.gap_mm, 0.0)
        return np.asarray(0.5 * self.widening * height * height)

    def width_mm(self, depth_mm: Result) -> Result:
        """Its lower side. Shape: any."""
        return np.asarray(self.widening * np.maximum(depth_mm - self.gap_mm, 0.0))


@dataclass(frozen=True)
class ArcRemoval:
    r"""An arc sunk into a corner of stock along one direction, from the gaps between the two.

    .. math:: A(h) = \int \max(g(u) - D + h, 0)\,du, \quad W(h) = \int [g(u) > D - h]\,du

    g(u) how far the arc at its full depth D lies below the stock at the place u, evenly spaced;
    below 0 or minus infinity where it is above it or ends. Range: at least one gap above 0, the
    spacing above 0, 0 <= h. Raises: ValueError. Source: definition, by the rule of midpoints.

    >>> float(ArcRemoval((0.0, 2.0, 0.0), 0.5).area_mm2(np.array(1.0)))  # by hand: 1 over 0.5
    0.5
    """

    gaps_mm: tuple[float, ...]
    spacing_mm: float

    def __post_init__(self) -> None:
        require("gaps_mm", max(self.gaps_mm), above=0.0)
        require("spacing_mm", self.spacing_mm, above=0.0)

    @property
    def deepest_mm(self) -> float:
        """The whole depth."""
        return max(self.gaps_mm)

    def area_mm2(self, depth_mm: Result) -> Result:
        """Area between the stock and the arc so deep. Shape: any."""
        return np.asarray(np.maximum(self._inside(depth_mm), 0.0).sum(axis=-1) * self.spacing_mm)

    def width_mm(self, depth_mm: Result) -> Result:
        """Width of the arc in the stock, at least one place. Shape: any."""
        places = np.maximum((self._inside(depth_mm) > 0.0).sum(axis=-1), 1)
        return np.asarray(places * self.spacing_mm)

    def _inside(self, depth_mm: Result) -> Result:
        left = self.deepest_mm - np.asarray(depth_mm, float)
        return np.asarray(np.array(self.gaps_mm) - left[..., np.newaxis])


@dataclass(frozen=True)
class LayerRemoval:
    r"""A flat wheel on a bevel face that is flat already: a layer of it.

    .. math:: A = b h + \frac{h^2}{2\sin\beta\cos\beta}, \quad W = b + \frac{h}{\sin\beta\cos\beta}

    b width of the face before. Range: b > 0, h >= 0. Raises: ValueError.
    Source: trapezoid between two lines parallel to the face, from the square edge to the flank.
    """

    bevel_rad: float
    face_width_mm: float
    deepest_mm: float

    def __post_init__(self) -> None:
        require("bevel_rad", self.bevel_rad, above=0.0, high=math.nextafter(math.pi / 2, 0.0))
        require("face_width_mm", self.face_width_mm, above=0.0)
        require("deepest_mm", self.deepest_mm, above=0.0)

    @property
    def _widening(self) -> float:
        return 1.0 / (math.sin(self.bevel_rad) * math.cos(self.bevel_rad))

    def area_mm2(self, depth_mm: Result) -> Result:
        """Area of the layer. Shape: any."""
        return np.asarray((self.face_width_mm + 0.5 * self._widening * depth_mm) * depth_mm)

    def width_mm(self, depth_mm: Result) -> Result:
        """Width of its lower side. Shape: any."""
        return np.asarray(self.face_width_mm + self._widening * depth_mm)


@dataclass(frozen=True)
class LandsRemoval:
    r"""A flat wheel on a bevel face that has a hollow in it: the layer less the hollow.

    .. math::
        A = b h + \frac{h^2}{2\sin\beta\cos\beta} - [S(D) - S(D - h)], \quad
        W = b + \frac{h}{\sin\beta\cos\beta} - c(D - h)

    b width of the face before, D depth of the hollow before, S and c area and chord of the segment
    of radius R, both 0 from h = D on. Range: b > 0, 0 < D <= R, 0 <= h <= R. Raises: ValueError.
    Source: trapezoid between two lines parallel to the face, from the square edge to the flank,
    less the part of the segment between them.
    """

    bevel_rad: float
    face_width_mm: float
    radius_mm: float
    hollow_mm: float

    def __post_init__(self) -> None:
        require("bevel_rad", self.bevel_rad, above=0.0, high=math.nextafter(math.pi / 2, 0.0))
        require("face_width_mm", self.face_width_mm, above=0.0)
        require("radius_mm", self.radius_mm, above=0.0)
        require("hollow_mm", self.hollow_mm, above=0.0, high=self.radius_mm)

    @property
    def deepest_mm(self) -> float:
        """The radius of the hollow: below its own depth the layer is whole."""
        return self.radius_mm

    def area_mm2(self, depth_mm: Result) -> Result:
        """Area of the layer less the hollow. Shape: any."""
        widening = 0.5 / (math.sin(self.bevel_rad) * math.cos(self.bevel_rad))
        layer = self.face_width_mm * depth_mm + widening * depth_mm * depth_mm
        left = np.maximum(self.hollow_mm - depth_mm, 0.0)
        hollow = unchecked_area(self.radius_mm, np.asarray(self.hollow_mm)) - unchecked_area(
            self.radius_mm, left
        )
        return np.asarray(layer - hollow)

    def width_mm(self, depth_mm: Result) -> Result:
        """Width of the two lands together. Shape: any."""
        widening = 1.0 / (math.sin(self.bevel_rad) * math.cos(self.bevel_rad))
        left = np.maximum(self.hollow_mm - depth_mm, 0.0)
        whole = self.face_width_mm + widening * depth_mm
        return np.asarray(whole - unchecked_chord(self.radius_mm, left))

"""Area and width of what a wheel takes, against polygons and numerical slopes."""

import math

import numpy as np
import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st

from planner.formulas.removal import CornerRemoval, LandsRemoval, SegmentRemoval

BETA = math.radians(12.5)


def half_plane(depth, corner):
    """Everything outside a line at the bevel angle, so deep below a corner of the stock."""
    along = np.array([math.cos(BETA), math.sin(BETA)])
    normal = np.array([-math.sin(BETA), math.cos(BETA)])
    on_line = np.array(corner) - depth * normal
    ends = [on_line - 100 * along, on_line + 100 * along]
    return shapely.Polygon([*ends, ends[1] + 100 * normal, ends[0] + 100 * normal])


def test_corner_of_parallel_stock_by_polygons():
    stock = shapely.box(0, -1.5, 20, 1.5)
    removal = CornerRemoval(BETA, 1.4)
    for depth in (0.05, 0.5, 1.3):
        cut = stock.intersection(half_plane(depth, (0, 1.5)))
        assert removal.area_mm2(np.array(depth)) == pytest.approx(cut.area, rel=1e-9)


def test_lands_by_polygons():
    # A face 6 mm wide in the section, square at the edge, with a hollow of radius 75 in it.
    radius, hollow, allowance = 75.0, 0.05, 0.02
    width = 6.0
    top = width * math.sin(BETA)
    stock = shapely.Polygon([(0, -3), (0, 0), (width * math.cos(BETA), top), (40, top), (40, -3)])
    middle = np.array([math.cos(BETA), math.sin(BETA)]) * 3.0
    centre = middle + (radius - hollow) * np.array([-math.sin(BETA), math.cos(BETA)])
    ground = stock.difference(shapely.Point(centre).buffer(radius, 20_000))
    removal = LandsRemoval(BETA, width, radius, hollow)
    for depth in (0.002, 0.01, allowance):
        cut = ground.intersection(half_plane(depth, (0, 0)))
        assert removal.area_mm2(np.array(depth)) == pytest.approx(cut.area, rel=2e-4)


shapes = st.one_of(
    st.floats(1, 300).map(SegmentRemoval),
    st.floats(0.05, 1.4).map(lambda b: CornerRemoval(b, 5.0)),
    st.tuples(st.floats(0.05, 1.4), st.floats(10, 300), st.floats(0.01, 0.1)).map(
        lambda t: LandsRemoval(t[0], 2.5 * math.sqrt(2 * t[1] * t[2]), t[1], t[2])
    ),
)


@given(shapes, st.floats(0.01, 0.99))
def test_width_is_the_slope_of_the_area_and_never_falls(shape, share):
    # At its very bottom the chord of a hollow ends with an upright slope.
    depth = share * min(shape.deepest_mm, getattr(shape, "hollow_mm", 0.5), 0.5)
    step = 1e-4 * depth
    below, above = (float(shape.area_mm2(np.array(depth + s))) for s in (-step, step))
    # Property: dA/dh = W, by central difference.
    assert float(shape.width_mm(np.array(depth))) == pytest.approx(
        (above - below) / (2 * step), rel=1e-4
    )
    # Property: the spring balance needs an area that is hollow upwards.
    wider = float(shape.width_mm(np.array(depth * 1.01)))
    assert wider >= float(shape.width_mm(np.array(depth))) * (1 - 1e-12)


@pytest.mark.parametrize(
    ("make", "name"),
    [
        (lambda: SegmentRemoval(0.0), "radius_mm"),
        (lambda: CornerRemoval(0.0, 1.0), "bevel_rad"),
        (lambda: CornerRemoval(0.3, 0.0), "deepest_mm"),
        (lambda: LandsRemoval(0.3, 0.0, 75.0, 0.05), "face_width_mm"),
        (lambda: LandsRemoval(0.3, 5.0, 75.0, 0.0), "hollow_mm"),
    ],
)
def test_values_out_of_range_are_refused_by_name(make, name):
    with pytest.raises(ValueError, match=name):
        make()

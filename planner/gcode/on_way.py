"""The steps of a set-up as its axes make them: straight, by a turn, or along a followed edge."""

from __future__ import annotations

from planner.gcode.on_slides import on_the_slides
from planner.gcode.on_turn import on_the_turn
from planner.gcode.program import Program
from planner.kinematics.edge_way import EdgeWay
from planner.kinematics.slide_blocks import SlideBlocks


def on_the_way(program: Program, way: EdgeWay, clearance_mm: float) -> Program:
    """A program along an unrolled edge as the machine's own axes move."""
    if isinstance(way, SlideBlocks):
        return on_the_slides(program, way, clearance_mm)
    return on_the_turn(program, way)

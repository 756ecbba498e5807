"""How a blade lies in its clamp: the face that is to the wheel, and where its two ends stand."""

from __future__ import annotations

from collections.abc import Callable

from planner.setup_plan import Setup


def lies_words(setup: Setup, traverse_word: Callable[[float], str]) -> str:
    """A sentence for the set-up sheet; where the blades of a row stand, its table says.

    ``traverse_word`` writes a place along the edge (mm) as the programs do. Which end lies where
    cannot be seen from the zero alone: clamped the other way round, the passes would run off over
    the wrong end.
    """
    face = setup.work.face
    words = f"Face {face.face} to the wheel"
    if face.angle_deg:
        words = f"Face {face.face}, the bevel of {face.angle_deg:.2f} deg, to the wheel"
    if setup.in_row:
        return f"{words}."
    ends = traverse_word(0.0), traverse_word(setup.row.edge_length_mm)
    heel, tip = ends if setup.frame.x_per_traverse > 0 else ends[::-1]
    if setup.followed is not None:
        return (
            f"{words}, and its edge so that it lies along the traverse at the anchor: in the "
            f"program's figures the wheel bares on the heel at {heel}, on the tip at {tip}; the "
            "places between are in the table above."
        )
    if setup.turned is not None:
        return f"{words}; the heel comes under it at {heel}, the tip at {tip}."
    return f"{words}; in the program's figures the heel stands at {heel}, the tip at {tip}."

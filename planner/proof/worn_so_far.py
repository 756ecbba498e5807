"""What the wheel has worn off by now, pass by pass."""

from __future__ import annotations

from planner.proof.finish import ALLOWANCE


class WornSoFar:
    """The radius that the wheel has lost since its touch-off, and what that allows a pass."""

    def __init__(self, infeed_step_mm: float, worn_mm: float, before_mm: float) -> None:
        """``before_mm`` is what had worn off the wheel before it was changed, if it was."""
        self.mm = worn_mm
        """The wheel stands back from its place by as much."""
        self.in_pass_mm = 0.0
        """Radius that the pass so far costs; it counts from the next on."""
        self.infeed_line = 0
        """The block that last sent the wheel to another infeed."""
        self._infeed_step_mm = infeed_step_mm
        self._at_infeed_mm = worn_mm
        lost = max(before_mm - worn_mm, 0.0)
        self.stood_back_mm = min(lost * ALLOWANCE, infeed_step_mm)
        """How far the wheel that was changed may have stood back when it was taken off."""

    def new_pass(self) -> None:
        """The wheel stands off the ends: what it has worn counts from here on."""
        self.mm += self.in_pass_mm
        self.in_pass_mm = 0.0

    def new_infeed(self, line: int) -> None:
        """A block moves the infeed: it makes up for what has worn off until then."""
        self.infeed_line = line
        self._at_infeed_mm = self.mm

    @property
    def behind_mm(self) -> float:
        """How far wear may leave a pass behind its claim: an infeed makes up for it in whole steps,
        and what is lost since then nothing makes up for."""
        before = min(self._at_infeed_mm * ALLOWANCE, self._infeed_step_mm)
        return before + (self.mm - self._at_infeed_mm) * ALLOWANCE

    @property
    def made_up_mm(self) -> float:
        """How much more a pass may bite because it makes up for wear: a step that has worn off."""
        whole = self.mm * ALLOWANCE >= self._infeed_step_mm
        return self._infeed_step_mm if whole else self.stood_back_mm

    @property
    def ahead_mm(self) -> float:
        """How much less than worked out the wheel may have worn."""
        return (ALLOWANCE - 1.0) * self.mm

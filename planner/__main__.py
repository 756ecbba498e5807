"""``python -m planner`` is the command ``bevelwright``."""

from planner.cli import run

run()

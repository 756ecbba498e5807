"""The bytes of a program that is to be proved."""

from __future__ import annotations

from pathlib import Path

from planner.errors import InputError, Problem

MOST_BYTES = 2_000_000
"""Thirty thousand passes, far more than any set-up needs; a wrong file cannot fill the memory."""


def read_program(path: Path) -> bytes:
    """The whole file.

    Raises: InputError when there is no such file, or it cannot be read or is too large.
    """
    try:
        if path.is_dir():
            raise IsADirectoryError(0, "is a folder")
        # The size that a device or a pipe states is not how much it gives.
        with path.open("rb") as file:
            data = file.read(MOST_BYTES + 1)
        if len(data) > MOST_BYTES:
            raise OSError(0, f"more than {MOST_BYTES} bytes")
        return data
    except (OSError, ValueError) as fault:
        reason = fault.strerror if isinstance(fault, OSError) and fault.strerror else str(fault)
        raise InputError(
            [
                Problem(
                    file=str(path),
                    line=0,
                    column=0,
                    rule="file-not-readable",
                    key_path="",
                    given=reason,
                    allowed="a program file that can be read",
                    mend="check the path and its permissions",
                )
            ]
        ) from fault

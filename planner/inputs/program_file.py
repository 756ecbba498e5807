"""The bytes of a program that is to be proved."""

from __future__ import annotations

from pathlib import Path

from planner.errors import InputError, Problem

MOST_BYTES = 50_000_000
"""Far more than any set-up needs; keeps a wrong file from filling the memory."""


def read_program(path: Path) -> bytes:
    """The whole file.

    Raises: InputError when there is no such file, or it cannot be read or is too large.
    """
    try:
        if path.is_dir():
            raise IsADirectoryError(0, "is a folder")
        size = path.stat().st_size
        if size > MOST_BYTES:
            raise OSError(0, f"has {size} bytes, more than {MOST_BYTES}")
        return path.read_bytes()
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

"""One file written whole or not at all, over what stood there before."""

from __future__ import annotations

import os
import tempfile
from pathlib import Path

from planner.errors import InputError, Problem


def check_file(path: Path, option: str, suffixes: tuple[str, ...] = ()) -> None:
    """Can this file be written, and has its name an ending that says how?

    Raises: InputError.
    """
    if suffixes and path.suffix.lower() not in suffixes:
        raise InputError(
            [
                _problem(
                    path,
                    option,
                    "unknown-suffix",
                    f"a name ending in {path.suffix or 'nothing'}",
                    f"a name that ends in {', '.join(suffixes)}",
                    f"{path.stem}{suffixes[0]}",
                )
            ]
        )
    if path.is_dir():
        raise _cannot(path, option, "there is a folder of this name")
    if path.exists() and not path.is_file():
        raise _cannot(path, option, "it is a device, not a plain file")
    if path.suffix.lower() in (".yaml", ".yml"):
        raise _cannot(path, option, "it would stand in the place of a job or a machine file")
    if not path.absolute().parent.is_dir():
        raise _cannot(path, option, "there is no such folder")
    if not os.access(path.absolute().parent, os.W_OK):
        raise _cannot(path, option, "writing is not permitted")


def put_file(path: Path, data: bytes, option: str) -> None:
    """Write a file beside its place and move it there.

    Raises: InputError where it cannot be written.
    """
    draft, path = "", path.resolve()  # what a link leads to is written, the link stays
    try:
        handle, draft = tempfile.mkstemp(prefix=f".{path.name}.", dir=path.absolute().parent)
        with os.fdopen(handle, "wb") as file:
            file.write(data)
            file.flush()
            os.fsync(file.fileno())
        Path(draft).chmod(0o644)
        Path(draft).replace(path)
    except OSError as fault:
        if draft:
            Path(draft).unlink(missing_ok=True)
        raise _cannot(path, option, fault.strerror or str(fault)) from fault


def _cannot(path: Path, option: str, why: str) -> InputError:
    return InputError(
        [
            _problem(
                path,
                option,
                "cannot-write",
                why,
                "a file that can be written, in a folder that is there",
                "check the path, its permissions and the room on the disk",
            )
        ]
    )


def _problem(path: Path, option: str, rule: str, given: str, allowed: str, mend: str) -> Problem:
    return Problem(
        file=str(path),
        line=0,
        column=0,
        rule=rule,
        key_path=option,
        given=given,
        allowed=allowed,
        mend=mend,
    )

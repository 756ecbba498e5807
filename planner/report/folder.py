"""Files put into a folder all or nothing.

The files are written to a new folder beside the target and flushed to the disk; one rename, or
one exchange of two folders, makes them visible. A kill at any moment leaves either what was
there before or the whole new folder (and perhaps a hidden left-over beside it).
"""

from __future__ import annotations

import ctypes
import errno
import os
import shutil
import tempfile
from collections.abc import Callable, Mapping
from pathlib import Path

from planner.errors import InputError, Problem

_RENAME_EXCHANGE = 2
_AT_FDCWD = -100


Ours = Callable[[str], bool]
"""Whether a command itself writes a file of this name."""


def is_of_write(name: str) -> bool:
    """The files of ``write``."""
    ends = (".html", ".pdf")
    return (
        name in {"plan.json", "section.svg", "cut.svg", "preview.html"}
        or (name.startswith("setup-") and name.endswith((".ngc", ".md", *ends)))
        or (name.startswith(("inspection", "traveller")) and name.endswith(ends))
    )


def is_of_draw(name: str) -> bool:
    """The files of ``draw``."""
    return name in {"section.dxf", "section.svg"} or (
        name.startswith("path-") and name.endswith(".csv")
    )


def put_folder(
    files: Mapping[str, bytes], target: Path, *, replace: bool, ours: Ours = is_of_write
) -> None:
    """Make ``target`` hold exactly these files.

    A folder that exists and is not empty is only replaced when asked, and only when everything
    in it has a name that this command writes itself: nothing of the user's is lost.

    Raises: InputError when the target is in the way or cannot be written.
    """
    check_target(target, replace=replace, ours=ours)
    occupied = target.exists()
    try:
        target.parent.mkdir(parents=True, exist_ok=True)
        draft = Path(tempfile.mkdtemp(prefix=f".{target.name}.", dir=target.parent))
    except OSError as fault:
        raise _cannot_write(target, fault) from fault
    try:
        for name, data in files.items():
            with (draft / name).open("wb") as file:
                file.write(data)
                file.flush()
                os.fsync(file.fileno())
        draft.chmod(0o755)
        _flush_folder(draft)
        if occupied and any(target.iterdir()):
            _exchange(draft, target)
        else:
            draft.rename(target)
        _flush_folder(target.parent)
    except OSError as fault:
        raise _cannot_write(target, fault) from fault
    finally:
        shutil.rmtree(draft, ignore_errors=True)


def check_target(target: Path, *, replace: bool, ours: Ours = is_of_write) -> None:
    """Is this folder free to be made or replaced?

    Raises: InputError naming what is in the way.
    """
    try:
        names = _names_in(target)
    except OSError as fault:
        raise _cannot_write(target, fault) from fault
    if not names:
        return
    strange = [n for n in names if not _is_ours(target / n, ours)]
    if strange:
        raise InputError(
            [_in_the_way(target, f"a folder that also holds {strange[0]}", "another name")]
        )
    if not replace:
        raise InputError(
            [
                _in_the_way(
                    target,
                    "a folder with what this command wrote earlier",
                    "--replace, or another name",
                )
            ]
        )


def _names_in(target: Path) -> list[str]:
    """What the target folder holds; nothing where there is no such folder yet.

    Raises: InputError when it is no folder, OSError when it cannot be looked at.
    """
    if not target.exists() and not target.is_symlink():
        return []
    if target.is_symlink() or not target.is_dir():
        raise InputError([_in_the_way(target, "something that is not a folder", "another name")])
    return sorted(p.name for p in target.iterdir())


def _is_ours(path: Path, ours: Ours) -> bool:
    return not path.is_symlink() and path.is_file() and ours(path.name)


def _exchange(draft: Path, target: Path) -> None:
    """Exchange two folders in one step of the file system (Linux: renameat2)."""
    try:
        rename = ctypes.CDLL(None, use_errno=True).renameat2
    except (OSError, AttributeError) as missing:
        raise OSError(errno.ENOSYS, "this system cannot exchange two folders at once") from missing
    done = rename(_AT_FDCWD, os.fsencode(draft), _AT_FDCWD, os.fsencode(target), _RENAME_EXCHANGE)
    if done != 0:
        code = ctypes.get_errno()
        raise OSError(code, os.strerror(code))


def _flush_folder(path: Path) -> None:
    handle = os.open(path, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)


def _in_the_way(target: Path, what: str, mend: str) -> Problem:
    return Problem(
        file=str(target),
        line=0,
        column=0,
        rule="folder-in-the-way",
        key_path="--out",
        given=what,
        allowed="a folder that does not exist, or is empty",
        mend=f"give {mend}",
    )


def _cannot_write(target: Path, fault: OSError) -> InputError:
    return InputError(
        [
            Problem(
                file=str(target),
                line=0,
                column=0,
                rule="cannot-write",
                key_path="--out",
                given=fault.strerror or str(fault),
                allowed="a folder that can be written",
                mend="check the path, its permissions and the room on the disk",
            )
        ]
    )

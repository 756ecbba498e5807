"""Files and ``--set`` texts -> frozen job and machine, or every problem at once."""

from __future__ import annotations

import errno
import hashlib
import os
import stat
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Generic, TypeVar

from pydantic import ValidationError

from planner.errors import InputError, Problem
from planner.inputs.fields import FileModel, keys_of
from planner.inputs.job import Job
from planner.inputs.machine import Machine
from planner.inputs.overrides import Override, apply_overrides, in_the_rack, read_overrides
from planner.inputs.steels import find_steel, load_steels, near_steels
from planner.inputs.yaml_nodes import (
    MAX_BYTES,
    Mark,
    Node,
    NodeList,
    NodeMap,
    Scalar,
    Source,
    read_bytes,
    shown,
)

FilePath = str | os.PathLike[str]
M = TypeVar("M", bound=FileModel)


@dataclass(frozen=True)
class LoadedFile(Generic[M]):
    """A valid file: its model, the path it was read from, and the digest of its bytes.

    The digest is of the file alone; the model also holds what ``--set`` replaced.
    """

    model: M
    path: Path
    sha256: str
    drawing: tuple[str, str] | None = None
    """Name and digest of the drawing that the job's section is read from."""


LoadedJob = LoadedFile[Job]
LoadedMachine = LoadedFile[Machine]


def load_job(path: FilePath, overrides: Iterable[str] = ()) -> LoadedJob:
    """Read a job file; ``overrides`` are texts like ``relief.edge_land=1.0 mm``.

    Raises: InputError with every problem of the file and of the overrides.
    """
    settings, problems = read_overrides(overrides)
    draft = _draft_job(Path(path), settings)
    return _finish([*problems, *draft.problems], draft)


def load_machine(path: FilePath, overrides: Iterable[str] = ()) -> LoadedMachine:
    """Read a machine file; ``overrides`` are texts like ``spindle.speed=2000 rpm``.

    Raises: InputError with every problem of the file and of the overrides.
    """
    settings, problems = read_overrides(overrides)
    draft = _Draft(Machine, Path(path), settings)
    return _finish([*problems, *draft.problems], draft)


def load_pair(
    job_path: FilePath,
    machine_path: FilePath | None = None,
    overrides: Iterable[str] = (),
    varied: Iterable[str] = (),
) -> tuple[LoadedJob, LoadedMachine]:
    """Read a job and its machine, and check the one against the other.

    Without ``machine_path`` the job's own ``machine`` is taken, seen from the job's folder.
    Overrides that start with ``machine.`` go to the machine, those that start with ``wheel.`` to
    the job's wheel in its rack, all others to the job. ``varied`` are more of them, of ``--vary``.
    Raises: InputError with every problem of both files and of the overrides.
    """
    settings, problems = read_overrides(overrides)
    more, found = read_overrides(varied, "--vary")
    settings, problems = settings + more, problems + found
    for_machine = [below for s in settings if (below := s.below("machine")) is not None]
    for_wheel = [s for s in settings if s.below("wheel") is not None]
    job = _draft_job(
        Path(job_path), [s for s in settings if s.below("machine") is None and s not in for_wheel]
    )
    if other := _other_kind(job, Job):
        raise InputError(other)
    problems += job.problems
    named = job.text("machine")
    where = Path(machine_path) if machine_path is not None else None
    if where is None and named is not None:
        where = _beside(job.path, str(named))
    if where is None:
        if isinstance(job.root, NodeMap) and "machine" not in job.root:
            problems.append(
                job.root.mark.problem(
                    "missing-key",
                    key_path="machine",
                    given="nothing",
                    allowed="the path of a machine file, seen from the job's folder",
                    mend="add machine: ../machines/name.yaml, or give --machine FILE",
                )
            )
        raise InputError(problems)
    named_at = None if machine_path else named
    machine = _Draft(Machine, where, for_machine, named_at, (_relief_wheel(job), for_wheel))
    problems += _other_kind(machine, Machine) or machine.problems
    problems += _wheel_is_in_rack(job, machine)
    return _finish(problems, job), _finish(problems, machine)


def load_either(path: FilePath) -> LoadedJob | LoadedMachine:
    """Read a file that may be a job or a machine, told apart by their keys.

    Raises: InputError with every problem of the file.
    """
    data = _bytes_of(Path(path), None)
    root = None if isinstance(data, Problem) else read_bytes(data, str(path)).root
    if _kind_of(root) is Machine:
        return load_machine(path)
    draft = _draft_job(Path(path), [])
    if draft.problems and draft.text("machine") is not None:
        # Every problem comes at once, also that its machine is not there.
        load_pair(path)
    return _finish([*draft.problems], draft)


def _kind_of(root: Node | None) -> type[Job] | type[Machine] | None:
    """What a file looks like by its keys; None where they are of neither more than the other."""
    keys = set(root) if isinstance(root, NodeMap) else set()
    of_machine = len(keys & keys_of(Machine).keys())
    of_job = len(keys & keys_of(Job).keys())
    if of_machine == of_job:
        return None
    return Machine if of_machine > of_job else Job


def _other_kind(draft: _Draft[Job] | _Draft[Machine], wanted: type[FileModel]) -> list[Problem]:
    """The one problem of a machine where a job is wanted, or a job where a machine is."""
    found = _kind_of(draft.root)
    if found in (None, wanted):
        return []
    is_machine = found is Machine
    mark = Mark(Source(str(draft.path), ()), 0, 0)
    return [
        mark.problem(
            "other-kind",
            key_path="",
            given=f"{shown(str(draft.path))} is a {'machine' if is_machine else 'job'}, not a "
            f"{'job' if is_machine else 'machine'}",
            allowed="a job, and the machine that it names or that --machine gives",
            mend="give a job that names this machine"
            if is_machine
            else "give the machine, not the job, to machine or --machine",
        )
    ]


def _finish(problems: list[Problem], draft: _Draft[M]) -> LoadedFile[M]:
    if problems:
        raise InputError(problems)
    if draft.model is None:
        # Pydantic refused, and no words were found for it: that is a slip of ours.
        raise RuntimeError(f"{draft.path} is refused without a problem") from draft.refused
    return LoadedFile(draft.model, draft.path, draft.sha256, draft.drawing)


class _Draft(Generic[M]):
    """One file being read: as much of it as there is, and its problems."""

    def __init__(
        self,
        kind: type[M],
        path: Path,
        overrides: list[Override],
        named_at: Scalar | None = None,
        at_wheel: tuple[str | None, list[Override]] = (None, []),
    ) -> None:
        self.path = path
        self.model: M | None = None
        self.refused: ValidationError | None = None
        self.root: Node | None = None
        self.sha256 = ""
        self.drawing: tuple[str, str] | None = None
        data = _bytes_of(path, named_at)
        if isinstance(data, Problem):
            self.problems = [data]
            return
        self.sha256 = hashlib.sha256(data).hexdigest()
        self.root, self.problems = read_bytes(data, str(path))
        if isinstance(self.root, NodeMap):
            self.problems += apply_overrides(self.root, overrides)
            in_rack, found = in_the_rack(self.root, *at_wheel)
            self.problems += found + apply_overrides(self.root, in_rack)
            if kind is Job:
                drawn, self.drawing = _draw_section(self.root, path)
                self.problems += drawn
        if self.root is None:
            return
        try:
            self.model = kind.model_validate(self.root)
        except ValidationError as refused:
            from planner.inputs.translate import problems_in  # noqa: PLC0415 - only for faults

            self.problems += problems_in(kind, self.root, refused)
            self.refused = refused

    def text(self, key: str) -> Scalar | None:
        """Return the text of a key of the root, where there is one."""
        node = self.root.get(key) if isinstance(self.root, NodeMap) else None
        return node if isinstance(node, Scalar) and node.kind in ("text", "number") else None


_FACES = ("face_a", "face_b")


def _draw_section(root: NodeMap, job: Path) -> tuple[list[Problem], tuple[str, str] | None]:
    """Put the points of a section's drawing in the tree; also the drawing's name and digest."""
    blade = root.get("blade")
    section = blade.get("section") if isinstance(blade, NodeMap) else None
    named = section.get("file") if isinstance(section, NodeMap) else None
    if not isinstance(section, NodeMap) or section.get("form") != "outline":
        return [], None
    if not isinstance(named, Scalar) or named.kind != "text" or not named.strip():
        return [], None
    own = [k for k in section if k.removesuffix("_radius") in _FACES]
    key_path = "blade.section.file"
    if own:
        both = named.mark.problem(
            "outline-source",
            key_path=key_path,
            given=f"file with {', '.join(own)}",
            allowed="a file, or the points of face_a",
            mend="leave one of the two out",
            also_line=section.key_marks[own[0]].line,
        )
        return [both], None
    from planner.inputs.outline_file import MAX_BYTES as MOST  # noqa: PLC0415 - only if drawn
    from planner.inputs.outline_file import DrawingError, drawn_faces  # noqa: PLC0415

    allowed = "a DXF or SVG file with the section's outline, seen from the job's folder"
    path = _beside(job, str(named))
    data = _bytes_of(path, named, key_path, allowed, MOST)
    for key in _FACES:  # stands there until the points do: nothing else is said of them
        section[key] = Scalar("", "refused", named.mark)
        section.key_marks[key] = named.mark
    if isinstance(data, Problem):
        return [data], None
    try:
        micro = section.get("first_piece") == "micro_bevel"
        faces = drawn_faces(data, path.name, micro=micro)
    except DrawingError as error:
        given = f"{shown(str(path))}: {error.given}"
        problem = named.mark.problem(
            error.rule, key_path=key_path, given=given, allowed=allowed, mend=error.mend
        )
        return [problem], None
    for key, face in zip(_FACES, faces, strict=True):
        section[key] = _listed(face.points, named.mark)
        if face.radius_mm is not None:
            section[f"{key}_radius"] = Scalar(f"{face.radius_mm:.9f} mm", "text", named.mark)
            section.key_marks[f"{key}_radius"] = named.mark
    return [], (path.name, hashlib.sha256(data).hexdigest())


def _listed(points: Iterable[tuple[float, float]], mark: Mark) -> NodeList:
    """Points as a job would give them, all of them where the drawing is named."""
    found = NodeList(mark)
    for point in points:
        pair = NodeList(mark)
        pair += [Scalar(f"{value:.9f} mm", "text", mark) for value in point]
        found.append(pair)
    return found


def _draft_job(path: Path, overrides: list[Override]) -> _Draft[Job]:
    draft = _Draft(Job, path, overrides)
    steel = draft.text("steel")
    if steel is not None and steel.strip():
        try:
            find_steel(steel)
        except LookupError:
            near = near_steels(steel)
            draft.problems.append(
                steel.mark.problem(
                    "unknown-steel",
                    key_path="steel",
                    given=shown(steel),
                    allowed=f"{', '.join(load_steels())}, their EN designations, or a map",
                    mend=f"did you mean {' or '.join(near)}?"
                    if near
                    else "give a map with family, density, conductivity, specific_heat, "
                    "composition",
                )
            )
    return draft


def _wheel_is_in_rack(job: _Draft[Job], machine: _Draft[Machine]) -> list[Problem]:
    rack = machine.root.get("rack") if isinstance(machine.root, NodeMap) else None
    if not isinstance(rack, NodeList):
        return []
    names = [item.get("name") for item in rack if isinstance(item, NodeMap)]
    if len(names) < len(rack) or not all(isinstance(n, Scalar) for n in names):
        return []
    return [
        wheel.mark.problem(
            "unknown-wheel",
            key_path=key_path,
            given=f"{shown(wheel)}, not in the rack of {machine.path}",
            allowed=", ".join(shown(str(name)) for name in names),
            mend=f"name one of these in {job.path}"
            + (", or leave wheel out and the planner chooses" if key_path == "wheel" else ""),
        )
        for key_path, wheel in _wheels_named(job)
        if wheel not in names
    ]


def _relief_wheel(job: _Draft[Job]) -> str | None:
    """The wheel that the job names for its relief."""
    operations = job.root.get("operations") if isinstance(job.root, NodeMap) else None
    for operation in operations if isinstance(operations, NodeList) else ():
        if isinstance(operation, NodeMap) and operation.get("do") == "relief":
            named = operation.get("wheel")
            if isinstance(named, Scalar):
                return str(named)
    named = job.text("wheel")
    return None if named is None else str(named)


def _wheels_named(job: _Draft[Job]) -> Iterator[tuple[str, Scalar]]:
    """Every wheel that the job names, with its key path."""
    wheel = job.text("wheel")
    if wheel is not None:
        yield "wheel", wheel
    operations = job.root.get("operations") if isinstance(job.root, NodeMap) else None
    if isinstance(operations, NodeList):
        for n, operation in enumerate(operations):
            named = operation.get("wheel") if isinstance(operation, NodeMap) else None
            if isinstance(named, Scalar):
                yield f"operations[{n}].wheel", named


# --- files ------------------------------------------------------------------------------------


def _beside(job: Path, machine: str) -> Path:
    """Return the machine's path seen from the job's folder, without a/../ where that is safe."""
    joined = job.parent / machine
    plain = Path(os.path.normpath(joined))
    try:
        return plain if plain.samefile(joined) else joined
    except (OSError, ValueError):
        return joined


_REASONS = {
    errno.ENOENT: ("file-not-found", "no such file", "check the path"),
    errno.ENOTDIR: ("file-not-found", "no such file", "check the path"),
    errno.EISDIR: ("not-a-file", "not a regular file", "name a file in it"),
    errno.EACCES: ("file-not-readable", "reading is not permitted", "change the permissions"),
    errno.EPERM: ("file-not-readable", "reading is not permitted", "change the permissions"),
}


def _bytes_of(
    path: Path,
    named_at: Scalar | None,
    key_path: str = "machine",
    allowed: str = "a job or machine file that can be read",
    most: int = MAX_BYTES,
) -> bytes | Problem:
    """Return the file's bytes, one more than allowed at most; or why it cannot be read."""
    try:
        if not stat.S_ISREG(path.stat().st_mode):
            # A pipe or a device might never end.
            raise IsADirectoryError(errno.EISDIR, "not a regular file")
        with path.open("rb") as file:
            return file.read(most + 1)
    except ValueError:
        rule, given, mend = _REASONS[errno.ENOENT]
    except OSError as error:
        fallback = ("file-not-readable", error.strerror or "it cannot be read", "check the path")
        rule, given, mend = _REASONS.get(error.errno or 0, fallback)
    mark = named_at.mark if named_at is not None else Mark(Source(str(path), ()), 0, 0)
    return mark.problem(
        rule,
        key_path=key_path if named_at is not None else "",
        given=f"{shown(str(path))}: {given}",
        allowed=allowed,
        mend=mend,
    )

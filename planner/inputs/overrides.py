"""``--set key.path=value``: one value of a file, replaced or taken out from the command line."""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass, replace

from planner.errors import Problem
from planner.inputs.yaml_nodes import (
    Mark,
    Node,
    NodeList,
    NodeMap,
    Scalar,
    Source,
    read_text,
    shown,
)

SOURCE_NAME = "--set"
_PATH = re.compile(r"[^.\[\]\s=]+(?:\.[^.\[\]\s=]+|\[[0-9]+\])*")
_STEP = re.compile(r"[^.\[\]]+")


@dataclass(frozen=True)
class Override:
    """One ``--set``: its keys, where each stands in the text, and the value."""

    keys: tuple[str, ...]
    marks: tuple[Mark, ...]
    value: Node

    def below(self, first: str) -> Override | None:
        """Return the override without its first key; None when that key is another."""
        if len(self.keys) < 2 or self.keys[0] != first:
            return None
        return replace(self, keys=self.keys[1:], marks=self.marks[1:])


def read_overrides(
    texts: Iterable[str], name: str = SOURCE_NAME
) -> tuple[list[Override], list[Problem]]:
    """Read the texts of all ``--set``; a problem's line is the number of its ``--set``.

    ``name`` is the option that messages name in place of a file.

    >>> read_overrides(["rack[0].diameter=120 mm"])[0][0].keys
    ('rack', '0', 'diameter')
    """
    overrides: list[Override] = []
    problems: list[Problem] = []
    for number, text in enumerate(texts, 1):
        source = Source(name, (text,), first_line=number)
        path, equals, value = text.partition("=")
        if not equals or "\n" in text or "\r" in text or not _PATH.fullmatch(path.strip()):
            problems.append(
                Mark(source, number, 1).problem(
                    "override-form",
                    given=shown(text),
                    allowed="key.path=value, on one line",
                    mend="write it like relief.edge_land=1.0 mm",
                )
            )
            continue
        steps = list(_STEP.finditer(path.rstrip()))
        marks = tuple(Mark(source, number, step.start() + 1) for step in steps)
        keys = tuple(step[0].strip() for step in steps)
        # Blanks in place of the path keep the columns of the value right.
        node, found = read_text(" " * (len(path) + 1) + value, source)
        problems += [replace(p, key_path=".".join(keys)) for p in found]
        if node is None and not found:
            node = Scalar("", "null", marks[-1])
        if node is not None:
            overrides.append(Override(keys, marks, node))
    return overrides, problems


def apply_overrides(root: NodeMap, overrides: Iterable[Override]) -> list[Problem]:
    """Put each value into the tree, maps on the way to it where they are absent.

    A value left empty (``relief.depth=``) takes the key out. Returns what cannot be put.
    """
    found = (_apply(root, override) for override in overrides)
    return [problem for problem in found if problem is not None]


def in_the_rack(
    root: NodeMap, wheel: str | None, overrides: Iterable[Override]
) -> tuple[list[Override], list[Problem]]:
    """Turn ``wheel.diameter`` into the key of that wheel in the rack of a machine file.

    Where there is no such wheel nothing is returned: that is a problem of its own.
    """
    if wheel is None:
        return [], [
            o.marks[0].problem(
                "override-path",
                given=f"{'.'.join(o.keys)}, and the job names no wheel",
                allowed="wheel.key with the job's own wheel",
                mend="name a wheel with --set wheel=NAME, or count in the rack: "
                f"machine.rack[0].{'.'.join(o.keys[1:])}",
                key_path="wheel",
            )
            for o in overrides
        ]
    rack = root.get("rack")
    for place, item in enumerate(rack if isinstance(rack, NodeList) else ()):
        if isinstance(item, NodeMap) and item.get("name") == wheel:
            return [
                replace(o, keys=("rack", str(place), *o.keys[1:]), marks=(o.marks[0], *o.marks))
                for o in overrides
            ], []
    return [], []


def _apply(root: NodeMap, override: Override) -> Problem | None:
    node: Node = root
    *way, last = zip(override.keys, override.marks, strict=True)
    for key, mark in way:
        if isinstance(node, NodeMap) and _is_absent(node.get(key)):
            node[key] = NodeMap(mark)
            node.key_marks[key] = mark
        child = _child(node, key)
        if child is None:
            return _no_way(node, key, mark)
        node = child
    key, mark = last
    if isinstance(node, NodeMap):
        node.repeated.discard(key)
        if _is_absent(override.value):
            node.pop(key, None)
        else:
            node[key] = override.value
            node.key_marks[key] = mark
        return None
    if isinstance(node, NodeList) and _child(node, key) is not None:
        node[int(key)] = override.value
        return None
    return _no_way(node, key, mark)


def _is_absent(node: Node | None) -> bool:
    return node is None or (isinstance(node, Scalar) and node.kind == "null")


def _child(node: Node, key: str) -> Node | None:
    if isinstance(node, NodeMap):
        return node.get(key)
    if isinstance(node, NodeList) and re.fullmatch(r"[0-9]{1,6}", key) and int(key) < len(node):
        return node[int(key)]
    return None


def _no_way(node: Node, key: str, mark: Mark) -> Problem:
    if isinstance(node, NodeList):
        allowed = f"a number from 0 to {len(node) - 1}" if node else "nothing: the list is empty"
        mend = "count the items of the list from 0"
    else:
        allowed = "a key of a map, or the number of a list's item"
        mend = f"end the path before {key}: there is a single value"
    return mark.problem("override-path", given=shown(key), allowed=allowed, mend=mend, key_path=key)

"""YAML text -> a tree of strings, lists and mappings with line numbers. `no`, `012`, `1:30` stay text.

Built from parser events instead of a constructor, so that anchors (which can explode), tags and double keys are seen.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from ruamel.yaml import YAML
from ruamel.yaml.error import MarkedYAMLError, YAMLError
from ruamel.yaml.events import (
    AliasEvent,
    DocumentStartEvent,
    MappingEndEvent,
    MappingStartEvent,
    ScalarEvent,
    SequenceEndEvent,
    SequenceStartEvent,
)

from bench_voice.plain_file import open_plain
from bench_voice.sheets.faults import Fault, SheetFaults

MAX_BYTES = 1_000_000
MAX_DEPTH = 12

Path_ = tuple[str | int, ...]


class Tree:
    """`data`: str, None, list and dict only. `lines`: path -> line from 1; a mapping's key line counts."""

    def __init__(self, data: Any, lines: dict[Path_, int], origin: dict[Path_, Path_] | None = None) -> None:
        self.data = data
        self.lines = lines
        self._origin = origin or {}

    def line(self, path: Path_) -> int:
        """The line of `path`, or of the nearest thing above it."""
        while path and path not in self.lines:
            path = path[:-1]
        return self.lines.get(path, 1)

    def dotted(self, path: Path_) -> str:
        """The path as the file has it, also where faulty list entries were taken out before."""
        return dotted(self._origin.get(path, path))

    def original(self, path: Path_) -> Path_:
        """The path of the same place in the file, for a tree that something was taken out of."""
        return self._origin.get(path, path)

    def without(self, bad: set[Path_], stubs: Mapping[str, Any]) -> Tree:
        """The tree that is left when faulty places are taken out; lines and shown paths stay those of the file.

        A faulty or missing key that `stubs` has gets its stub, so that what is around it can still be looked at.
        """
        lines: dict[Path_, int] = {}
        origin: dict[Path_, Path_] = {}

        def copy(node: Any, old: Path_, new: Path_) -> Any:
            lines[new], origin[new] = self.line(old), old
            if isinstance(node, dict):
                kept_keys = {key: value for key, value in node.items() if (*old, key) not in bad}
                out = {key: copy(value, (*old, key), (*new, key)) for key, value in kept_keys.items()}
                return out | {key: stub for key, stub in stubs.items() if (*old, key) in bad}
            if isinstance(node, list):
                kept = [index for index in range(len(node)) if (*old, index) not in bad]
                return [copy(node[index], (*old, index), (*new, place)) for place, index in enumerate(kept)]
            return node

        return Tree(copy(self.data, (), ()), lines, origin)


def dotted(path: Path_) -> str:
    """`("steps", 3, "hold")` -> `steps[3].hold`."""
    out = ""
    for part in path:
        out += f"[{part}]" if isinstance(part, int) else (f".{part}" if out else part)
    return out


def read_text(path: Path) -> str:
    """The file's text; raises `SheetFaults` where it cannot be read, is too big or is not UTF-8."""

    def refuse(what: str, mend: str, slug: str, line: int = 0) -> SheetFaults:
        return SheetFaults([Fault(path.name, line, "", what, mend, slug)])

    try:
        # One byte more than allowed is read, never the whole of a huge file.
        with open_plain(path) as file:
            raw = file.read(MAX_BYTES + 1)
    except OSError as error:
        reason = error.strerror or "it cannot be opened"
        raise refuse(
            f"The sheet cannot be read: {reason}.", "Check the name and the folder.", "sheet-missing-file"
        ) from None
    if len(raw) > MAX_BYTES:
        raise refuse(
            "The file is larger than 1 MB.", "A job sheet is a short text; name the right file.", "sheet-too-big"
        )
    try:
        return raw.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = raw[: error.start].count(b"\n") + 1
        raise refuse("The file is not UTF-8 text.", "Save it as UTF-8.", "sheet-encoding", line) from None


def parse(text: str, where: str) -> Tree:
    """Parse; raises `SheetFaults` with all faults of the notation (a syntax error ends the reading)."""
    if len(text) > MAX_BYTES:
        mend = "A job sheet is a short text; name the right file."
        raise SheetFaults([Fault(where, 0, "", "The text is larger than 1 MB.", mend, "sheet-too-big")])
    text = text.removeprefix("\ufeff")
    faults = [
        Fault(where, number, "", "A tab stands at the beginning of the line.", "Indent with spaces.", "sheet-tab")
        for number, line in enumerate(text.split("\n"), 1)
        if re.match(r" *\t\s*\S", line)
    ]
    if faults:
        raise SheetFaults(faults)
    builder = _Builder(where)
    try:
        tree = builder.build(text)
    except MarkedYAMLError as error:
        mark = error.problem_mark or error.context_mark
        what = f"This is not YAML: {error.problem or error.context}."
        line = mark.line + 1 if mark else 1
        mend = "Check the indentation, the colons and the quotes of this line and the one above."
        raise SheetFaults([Fault(where, line, "", what, mend, "sheet-yaml")]) from None
    except YAMLError as error:
        position = getattr(error, "position", None)
        line = text[:position].count("\n") + 1 if isinstance(position, int) else 1
        mend = "Take it out, or write it in words."
        raise SheetFaults(
            [Fault(where, line, "", "There is a character that YAML does not allow.", mend, "sheet-yaml")]
        ) from None
    except (ValueError, OverflowError):
        # ruamel's scanner lets a few odd escapes and numbers through to `int`/`chr`.
        raise SheetFaults(
            [Fault(where, 1, "", "This is not YAML.", "Check the escapes in quotes.", "sheet-yaml")]
        ) from None
    if builder.faults:
        raise SheetFaults(builder.faults)
    return tree


class _Builder:
    """Folds parser events into the tree, collecting faults instead of stopping."""

    def __init__(self, where: str) -> None:
        self.where = where
        self.faults: list[Fault] = []
        self.lines: dict[Path_, int] = {}

    def _fault(self, line: int, path: Path_, what: str, mend: str, slug: str) -> None:
        self.faults.append(Fault(self.where, line, dotted(path), what, mend, slug))

    def build(self, text: str) -> Tree:
        events = iter(YAML(typ="safe", pure=True).parse(text))
        data: Any = None
        documents = 0
        for event in events:
            if isinstance(event, DocumentStartEvent):
                documents += 1
                if documents == 1:
                    data = self._node(next(events), events, ())
                else:
                    line = event.start_mark.line + 1
                    self._fault(
                        line,
                        (),
                        "A second document begins here.",
                        "One sheet a file: take out the `---`.",
                        "sheet-yaml",
                    )
                    break
        if documents == 0 or data is None or data == "":
            self._fault(1, (), "The file is empty.", "`bench-voice start-sheet` writes a beginning.", "sheet-empty")
        return Tree(data, self.lines)

    def _node(self, event: Any, events: Any, path: Path_) -> Any:
        line = event.start_mark.line + 1
        self.lines.setdefault(path, line)
        if isinstance(event, AliasEvent):
            self._fault(
                line,
                path,
                f'"*{event.anchor}" is an alias.',
                "Name the thing once and refer to its id.",
                "sheet-anchor",
            )
            return None
        if event.anchor:
            self._fault(
                line,
                path,
                f'"&{event.anchor}" is an anchor.',
                "Name the thing once and refer to its id.",
                "sheet-anchor",
            )
        if event.tag and str(event.tag) not in ("!", "None"):
            tag = str(event.tag).replace("tag:yaml.org,2002:", "!!")
            self._fault(line, path, f'"{tag}" is a tag.', "Write the plain value.", "sheet-anchor")
        if len(path) > MAX_DEPTH:
            slug = "sheet-deep"
            raise SheetFaults(
                [Fault(self.where, line, dotted(path[:3]), "This is nested too deep.", "Write it flatter.", slug)]
            )
        if isinstance(event, ScalarEvent):
            is_gap = event.style in (None, "") and event.value in ("", "~", "null")
            return None if is_gap else event.value
        if isinstance(event, SequenceStartEvent):
            return self._list(events, path)
        if isinstance(event, MappingStartEvent):
            return self._mapping(events, path)
        raise ValueError(type(event).__name__)

    def _list(self, events: Any, path: Path_) -> list[Any]:
        out: list[Any] = []
        for event in events:
            if isinstance(event, SequenceEndEvent):
                break
            out.append(self._node(event, events, (*path, len(out))))
        return out

    def _mapping(self, events: Any, path: Path_) -> dict[str, Any]:
        out: dict[str, Any] = {}
        for event in events:
            if isinstance(event, MappingEndEvent):
                break
            line = event.start_mark.line + 1
            if not isinstance(event, ScalarEvent):
                self._fault(line, path, "A key is not a plain word.", "Quote it, or write a plain word.", "sheet-yaml")
                self._node(event, events, (*path, "?"))
                self._node(next(events), events, (*path, "?"))
                continue
            key = event.value
            if key in out or key == "<<":
                if key == "<<":
                    self._fault(
                        line, path, '"<<" merges an alias.', "Name the thing once and refer to its id.", "sheet-anchor"
                    )
                else:
                    first = self.lines[(*path, key)]
                    what = f'"{key}" stands here twice, first in line {first}.'
                    self._fault(line, (*path, key), what, "Keep one of the two.", "sheet-key-twice")
                self._node(next(events), events, (*path, f"{key} again"))
                continue
            self.lines[(*path, key)] = line
            out[key] = self._node(next(events), events, (*path, key))
        return out

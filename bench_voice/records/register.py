"""The register of a journal: what was opened, when, and when it was closed."""

from __future__ import annotations

from typing import Any

from bench_voice.core import events as ev
from bench_voice.core.layered import difference
from bench_voice.core.state import State
from bench_voice.records.lines import when
from bench_voice.session import journal as jn


class Register:
    """One row a key, by what the folded register held: `closed` is None only while it is open.

    `opened` is the first time, `closed` the last, or when the only opening was withdrawn.
    """

    def __init__(self) -> None:
        self._rows: dict[str, dict[str, Any]] = {}
        # From when to when it was open, without what was withdrawn.
        self._spans: dict[str, list[list[str | None]]] = {}

    def see(self, line: jn.Line, before: State, after: State) -> None:
        """Changes are withdrawn last first: it is always a key's last span that an undo opens again or takes out."""
        changed = difference(before.register, after.register)
        at, is_undo = when(line.at_ms), isinstance(line.event, ev.Undone)
        for key in changed:
            if key in before.register or key not in after.register:
                continue
            entry = after.register[key]
            self._rows.setdefault(key, {"key": key, "name": entry.name, "kind": entry.kind.value})
            own = self._spans.setdefault(key, [])
            if is_undo and own:
                own[-1][1] = None
            else:
                own.append([at, None])
        for key in changed:
            if key not in before.register or key in after.register:
                continue
            own = self._spans[key]
            own[-1][1] = at
            if is_undo:
                self._rows[key] |= {"opened": own[-1][0], "closed": at}
                own.pop()

    def rows(self) -> list[dict[str, Any]]:
        for key, row in self._rows.items():
            spans = self._spans[key]
            if spans:
                row |= {"opened": spans[0][0], "closed": spans[-1][1]}
            row["state"] = "open" if row["closed"] is None else "closed" if spans else "withdrawn"
        return list(self._rows.values())

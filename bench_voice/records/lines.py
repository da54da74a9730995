"""A journal's lines as rows of a record, and what became of them.

A record is made in one walk through the journal: each part of it `see`s every line with the state before and after it,
and keeps only what it will show.
"""

from __future__ import annotations

from collections.abc import Collection
from datetime import UTC, datetime
from typing import Any

from bench_voice.core import events as ev
from bench_voice.core.cases import Reopening
from bench_voice.core.state import State
from bench_voice.session import journal as jn


def when(at_ms: int) -> str:
    """ISO 8601, UTC, to the second."""
    return datetime.fromtimestamp(at_ms / 1000, UTC).strftime("%Y-%m-%dT%H:%M:%SZ")


def fields(line: jn.Line, *names: str) -> dict[str, Any]:
    """When it was, and these fields of its event."""
    return {"seq": line.seq, "at": when(line.at_ms)} | {name: getattr(line.event, name) for name in names}


class Withdrawn:
    """Sequence numbers of what "strike that" has withdrawn."""

    def __init__(self) -> None:
        self.seqs: set[int] = set()
        self._confirmed: dict[str, int] = {}

    def see(self, line: jn.Line, before: State, after: State) -> None:
        event = line.event
        if isinstance(event, ev.Undone):
            self.seqs.add(event.seq)
        elif isinstance(event, ev.HoldConfirmed):
            self._confirmed[event.hold] = line.seq
        elif isinstance(event, ev.HoldReopened) and event.why is Reopening.UNDO and event.hold in self._confirmed:
            self.seqs.add(self._confirmed[event.hold])


def became(
    rows: list[dict[str, Any]],
    names: tuple[str, ...],
    withdrawn: Collection[int],
    standing: Collection[tuple[str, ...]],
    otherwise: str = "superseded",
) -> list[dict[str, Any]]:
    """`rows` with their state. Of one key (the fields `names`) the last that was not withdrawn stands, if the key is
    in `standing`: "do it again" takes all of them away.
    """
    last = {tuple(row[name] for name in names): row["seq"] for row in rows if row["seq"] not in withdrawn}
    for row in rows:
        key = tuple(row[name] for name in names)
        if row["seq"] in withdrawn:
            row["state"] = "withdrawn"
        else:
            row["state"] = "stands" if key in standing and last[key] == row["seq"] else otherwise
    return rows

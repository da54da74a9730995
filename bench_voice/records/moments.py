"""When something was, in the zone where the work was done: the one that the session noted, else the reader's own."""

from __future__ import annotations

import os
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import UTC, datetime, tzinfo
from pathlib import Path
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

from bench_voice.core import events as ev
from bench_voice.session import journal as jn


@dataclass(frozen=True)
class Zone:
    """`info` None: the reader's own."""

    info: tzinfo | None = None

    def at(self, at_ms: int) -> datetime:
        return datetime.fromtimestamp(at_ms / 1000, UTC).astimezone(self.info)

    def short(self, at_ms: int | None) -> str:
        """ "2026-05-04 09:30": to the minute; the journal has the rest."""
        return "" if at_ms is None else f"{self.at(at_ms):%Y-%m-%d %H:%M}"

    def long(self, at_ms: int | None) -> str:
        """With the day of the week, the zone and its offset."""
        if at_ms is None:
            return ""
        found = self.at(at_ms)
        offset = found.strftime("%z")
        return f"{found:%A, %Y-%m-%d %H:%M} {self.name(at_ms)} (UTC{offset[:3]}:{offset[3:5]})"

    def name(self, at_ms: int | None) -> str:
        return "" if at_ms is None else self.at(at_ms).tzname() or "UTC"

    def of(self, iso: str | None) -> str:
        """A time of the summary (ISO 8601, UTC) as `short`."""
        if iso is None:
            return ""
        return f"{datetime.fromisoformat(iso).astimezone(self.info):%Y-%m-%d %H:%M}"


def zone_of(lines: Iterable[jn.Line]) -> Zone:
    for line in lines:
        if isinstance(line.event, ev.SessionDetails) and line.event.zone:
            try:
                return Zone(ZoneInfo(line.event.zone))
            except (ZoneInfoNotFoundError, ValueError, OSError):
                continue  # a name that this machine's data does not have
    return Zone()


def zone_here() -> str:
    """The name of this machine's zone ("Europe/Oslo"); "" where it has none."""
    name = os.environ.get("TZ", "").removeprefix(":")
    if not name:
        try:
            name = str(Path("/etc/localtime").resolve()).partition("zoneinfo/")[2]
        except OSError:
            name = ""
    try:
        return ZoneInfo(name).key if name else ""
    except (ZoneInfoNotFoundError, ValueError, OSError):
        return ""

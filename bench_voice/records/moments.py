"""When something was, in the zone where the work was done: the one that the session noted, else the reader's own."""

from __future__ import annotations

import os
from dataclasses import dataclass
from datetime import UTC, datetime, tzinfo
from pathlib import Path
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError


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


def zone_of(name: str) -> Zone:
    """By its name; the reader's own where it has none that this machine's data knows."""
    try:
        return Zone(ZoneInfo(name)) if name else Zone()
    except (ZoneInfoNotFoundError, ValueError, OSError):
        return Zone()


def ms_of(iso: str | None) -> int | None:
    return None if iso is None else int(datetime.fromisoformat(iso).timestamp() * 1000)


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

"""THIRD_PARTY.md names every library of a plain installation, with the licence that its own metadata states."""

from __future__ import annotations

import re
from importlib import metadata
from pathlib import Path

from packaging.requirements import Requirement

ROOT = Path(__file__).resolve().parents[2]
NONE = "none stated"


def canonical(name: str) -> str:
    return re.sub(r"[-_.]+", "-", name).lower()


def installed(name: str = "bench-voice", found: dict[str, metadata.Distribution] | None = None) -> dict[str, str]:
    """Each distribution that `name` needs here, extras left out: the licence that its metadata states."""
    found = {} if found is None else found
    key = canonical(name)
    if key not in found:
        found[key] = metadata.distribution(name)
        for line in found[key].requires or ():
            wanted = Requirement(line)
            if wanted.marker is None or wanted.marker.evaluate({"extra": ""}):
                installed(wanted.name, found)
    return {key: stated(one) for key, one in found.items() if key != "bench-voice"}


def stated(one: metadata.Distribution) -> str:
    """The SPDX expression, else the licence field's first line, else the classifier."""
    about = one.metadata.json
    fields = (str(about.get("license_expression", "")), str(about.get("license", "")).partition("\n")[0].strip())
    classifiers = [
        str(line).rpartition(" :: ")[2] for line in about.get("classifier", ()) if line.startswith("License")
    ]
    return next((field for field in (*fields, *classifiers) if field), NONE)


def listed() -> dict[str, tuple[str, str]]:
    """Name: the licence as stated, and what stands beside it."""
    rows = re.findall(r"^\| `([^`]+)` \| ([^|]+) \| ([^|]+) \|$", (ROOT / "THIRD_PARTY.md").read_text("utf-8"), re.M)
    return {name: (licence.strip(), note.strip()) for name, licence, note in rows}


def test_every_library_is_named_with_the_licence_it_states() -> None:
    shown = listed()
    assert {name: shown.get(name, ("not listed", ""))[0] for name in installed()} == installed()


def test_no_library_is_without_a_licence_that_can_be_named() -> None:
    """Where the metadata states none, the note beside it names the licence of what is inside."""
    silent = [
        name for name, (licence, note) in listed().items() if licence == NONE and not note.startswith("Licence: ")
    ]
    assert not silent


def test_nothing_is_listed_that_is_no_longer_brought() -> None:
    assert not set(listed()) - set(installed())

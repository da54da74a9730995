"""The shipped schema in the hands of a general tool: check-jsonschema, as an editor's language server would use it."""

from __future__ import annotations

import json
import re
import subprocess
import sys
from collections import defaultdict
from functools import cache
from pathlib import Path

from bench_voice.sheets import start_sheet_text

HERE = Path(__file__).parent
ROOT = HERE.parents[1]
SCHEMA = ROOT / "bench_voice" / "sheets" / "job-sheet.schema.json"
BAD = sorted((HERE / "bad").glob("*.yaml"))

# Slugs whose faults stand in the shape of one value or in the notation; the others need the whole job, a dictionary or
# the file system.
OF_A_SCHEMA = {
    "sheet-choice", "sheet-deep", "sheet-hold-begin", "sheet-hold-short", "sheet-hold-words", "sheet-id", "sheet-key",
    "sheet-key-twice", "sheet-missing", "sheet-name", "sheet-number", "sheet-picture", "sheet-shape", "sheet-tab",
    "sheet-text", "sheet-unit", "sheet-yaml", "sheet-yes-no",
}  # fmt: skip
# Sheets with such a slug that no schema can refuse: a YAML reader makes a plain number of 1e3 and of 012 before the
# schema sees it, and a schema does not look for files.
NOT_SEEN = {"number-power", "leading-nought", "picture-missing"}
# Sheets with another slug that the schema refuses all the same: keys that exclude each other.
ALSO = {
    "between-beside", "merge", "table-beside-limit", "table-no-marking", "table-row-empty", "torque-no-target",
}  # fmt: skip


def run(*paths: Path) -> dict[str, set[str]]:
    """Names of the files that are refused, by why: "errors" (of the schema) or "parse_errors" (no YAML)."""
    command = [sys.executable, "-m", "check_jsonschema", "-o", "json", "--schemafile", str(SCHEMA), *map(str, paths)]
    done = subprocess.run(command, capture_output=True, text=True, timeout=300, check=False)
    body = json.loads(done.stdout)
    return {key: {Path(one["filename"]).stem for one in body.get(key, [])} for key in ("errors", "parse_errors")}


@cache
def refused() -> frozenset[str]:
    found = run(*BAD)
    return frozenset(found["errors"] | found["parse_errors"])


def slugs() -> dict[str, set[str]]:
    out: dict[str, set[str]] = defaultdict(set)
    for line in (HERE / "bad" / "expected.txt").read_text(encoding="utf-8").splitlines():
        name = line.removeprefix("note ").split(" line ")[0].split(":")[0].removesuffix(".yaml")
        out[name] |= set(re.findall(r"\[(sheet-[a-z-]+)\]$", line))
    return out


def test_it_accepts_every_good_sheet(tmp_path: Path) -> None:
    start = tmp_path / "start.yaml"
    start.write_text(start_sheet_text(), encoding="utf-8")
    good = [start, *(ROOT / "demo").glob("*.yaml"), *(HERE / "good").glob("*.yaml")]
    assert len(good) >= 6
    assert run(*good) == {"errors": set(), "parse_errors": set()}


def test_it_refuses_what_a_schema_can_refuse() -> None:
    wanted = {name for name, of in slugs().items() if of & OF_A_SCHEMA} - NOT_SEEN | ALSO
    assert refused() == wanted
    assert len(refused()) >= 55


def test_each_slug_of_a_schema_has_a_sheet() -> None:
    assert {slug for name in refused() for slug in slugs()[name]} >= OF_A_SCHEMA


def test_the_schema_is_one() -> None:
    command = [sys.executable, "-m", "check_jsonschema", "--check-metaschema", str(SCHEMA)]
    done = subprocess.run(command, capture_output=True, text=True, timeout=120, check=False)
    assert done.returncode == 0, done.stdout

"""`for each` is counted before it is spread; fifty faults are shown; ids fit into a file's name."""

from __future__ import annotations

import pytest

from bench_voice.sheets.faults import MOST_SHOWN, Fault, shown
from bench_voice.sheets.load import check_text

HEAD = "sheet: big\ntitle: Big\nversion: 1\nmachine: {name: x, id: y}\nsource: invented\n"
LETTERS = "abcdefghijklmnopqrst"


def values(count: int, *holders: str) -> str:
    words = [f"{a}{b}" for a in LETTERS for b in LETTERS][:count]
    return "for each:\n" + "".join(f"  {h}: [{', '.join(h + word for word in words)}]\n" for h in holders)


@pytest.mark.parametrize(
    ("sheet", "what"),
    [
        (
            values(100, *"uvw")
            + "readings:\n  <u>-<v>-<w>: {limit: {unit: mm, at least: 1}}\nsteps: [{id: a, say: Look.}]\n",
            "more than 2000 readings",
        ),
        (
            values(20, *"uvwxyz") + "items:\n  <u>-<v>-<w>-<x>-<y>-<z>: {}\nsteps: [{id: a, say: Look.}]\n",
            "more than 2000 items",
        ),
        (
            values(20, *"uvwx") + "steps:\n  - {id: a, say: Look., looks: [x-<u>-<v>-<w>-<x>]}\n",
            "more than 20000 things",
        ),
        (values(20, *"uvw") + "steps:\n  - {id: <u>-<v>-<w>, say: Look.}\n", "more than 2000 steps"),
    ],
)
def test_counted_before_it_is_spread(sheet: str, what: str) -> None:
    faults = [fault for fault in check_text(HEAD + sheet, "big.yaml") if fault.slug == "sheet-spread"]
    assert any(what in fault.what for fault in faults), faults


def test_fifty_faults_are_shown_and_how_many_more() -> None:
    fault = Fault("a.yaml", 1, "", "Wrong.", "Mend it.", "sheet-key")
    lines = shown([fault] * 60)
    assert len(lines) == MOST_SHOWN + 1
    assert lines[-1] == "a.yaml: 10 more. Mend these first, then check again."
    assert len(shown([fault] * 50)) == 50


def slugs(text: str) -> set[str]:
    return {fault.slug for fault in check_text(text, "a.yaml") if fault.severity == "fault"}


def test_an_id_fits_a_file_name() -> None:
    step = "steps: [{id: a, say: Look.}]\n"
    assert "sheet-id" in slugs(HEAD.replace("big", "b" * 81) + step)
    assert "sheet-id" in slugs(HEAD.replace("id: y", f"id: {'y' * 81}") + step)
    assert "sheet-id" not in slugs(HEAD.replace("big", "b" * 80) + step)


@pytest.mark.parametrize("title", ['"\\ud800"', '"\\UFFFFFFFF"', "a\u061cb", '"a\\u202eb"'])
def test_a_text_that_cannot_be_shown_is_a_fault(title: str) -> None:
    assert slugs(HEAD.replace("title: Big", f"title: {title}") + "steps: [{id: a, say: Look.}]\n") & {
        "sheet-text",
        "sheet-yaml",
    }


def test_an_uncertainty_has_no_sign() -> None:
    body = (
        "instruments:\n  gauge: {name: gauge, unit: mm, uncertainty: -0.1}\n"
        "readings:\n  gap: {limit: {unit: mm, at least: 1}, instrument: gauge}\n"
        "steps: [{id: a, say: Measure the gap., readings: [gap]}]\n"
    )
    assert "sheet-number" in slugs(HEAD + body)
    assert "sheet-number" not in slugs(HEAD + body.replace("-0.1", "0.1"))


def test_hold_phrases_that_differ_by_a_hyphen_are_the_same_to_the_ear() -> None:
    def steps(second: str) -> str:
        return (
            "steps:\n  - {id: a, say: Look., hold: confirm cross member is well bolted}\n"
            f"  - {{id: b, say: Look., hold: {second}}}\n"
        )

    assert "sheet-hold-near" in slugs(HEAD + steps("confirm cross-member is well bolted"))
    assert "sheet-hold-near" not in slugs(HEAD + steps("confirm drawbar pin is pushed home"))

"""From text to a job: notation, encodings, surprises of YAML 1.1, spreading."""

from __future__ import annotations

from decimal import Decimal
from pathlib import Path

import pytest

from bench_voice.core.sheet import Hold, ItemKind, Signal
from bench_voice.sheets import SheetFaults, check_file, check_text, load_sheet, load_text

HERE = Path(__file__).parent
PUMP = (HERE / "good" / "pump.yaml").read_text(encoding="utf-8")
PISTON = (HERE / "good" / "piston-pump.yaml").read_text(encoding="utf-8")


def test_the_pump_as_it_is_built() -> None:
    sheet = load_sheet(HERE / "good" / "pump.yaml")
    assert (sheet.id, sheet.version, sheet.machine, sheet.machine_id, sheet.language) == (
        "pump-service", "1", "Make-believe garden pump", "pump one", "en",
    )  # fmt: skip
    assert [step.id for step in sheet.steps] == [
        "isolate",
        "strip",
        "inspect",
        "polish",
        "rebuild",
        "run",
        "before-use",
    ]
    isolate, strip, inspect, polish, rebuild, run, gate = sheet.steps
    assert isolate.hold == Hold("isolate", "confirm pump is unplugged and drained", again=True)
    assert isolate.cautions[0].signal is Signal.WARNING
    assert isolate.opens == ("inlet-plug",)
    assert strip.opens == ("filter", "gasket")
    assert inspect.readings == ("left-gap", "right-gap")
    assert (polish.only_if, polish.needs) == ("left-gap", ("inspect",))
    assert sorted(rebuild.closes) == ["filter", "gasket"]
    assert run.requires == ("filter",)
    assert gate.gate
    assert gate.closes == ("inlet-plug",)
    assert sheet.items["gasket"].kind is ItemKind.RENEW
    left = sheet.readings["left-gap"]
    assert (left.name, left.pair, left.pair_within) == ("left gap", "right-gap", Decimal("0.1"))
    assert sheet.readings["right-gap"].pair == "left-gap"
    # Digits are kept as they were written.
    assert str(left.limit.low) == "0.20"
    assert left.limit.new == Decimal("0.30")
    assert (left.instrument, left.uncertainty) == ("feeler gauge", Decimal("0.01"))
    assert sheet.readings["outlet"].limit.from_marking == "plate"
    assert sheet.readings["plate"].is_marking


def test_the_piston_pump_as_it_is_built() -> None:
    sheet = load_text(PISTON, "piston-pump.yaml")
    # Each stage is a step: what comes before stands with the first, what is asked with the last.
    assert [step.id for step in sheet.steps if step.torque] == [
        "cover-stage-1", "cover-stage-2", "cover", "cap-stage-1", "cap",
    ]  # fmt: skip
    first, second, last = (sheet.steps[sheet.step_index(id_)] for id_ in ("cover-stage-1", "cover-stage-2", "cover"))
    assert [step.needs for step in (first, second, last)] == [(), ("cover-stage-1",), ("cover-stage-2",)]
    assert [step.closes for step in (first, second, last)] == [(), (), ("cover",)]
    assert [step.readings for step in (first, second, last)] == [(), (), ("cover-torque",)]
    assert [step.torque.target for step in (first, second, last) if step.torque] == [40, 80, 120]
    assert first.torque is not None
    assert first.torque.order == ("one", "four", "two", "five", "three")
    # 1 lbf*ft = 1.355 817 948 N*m (NIST SP 811, appendix B): 40 N*m are 29.5 lbf*ft, to three figures.
    assert first.torque.on_instrument == (Decimal("29.5"), "lbf*ft")
    turn = sheet.steps[sheet.step_index("cap")].torque
    assert turn is not None
    assert (turn.target, turn.turn, turn.number, turn.count) == (None, Decimal(90), 2, 2)
    assert sheet.steps[sheet.step_index("cap-stage-1")].needs == ("cover",)
    # A torque is the limit of its reading; the wrench's doubt is turned into the limit's unit.
    spec = sheet.readings["cover-torque"]
    assert (spec.limit.low, spec.limit.high, spec.unit, spec.read_in) == (108, 132, "N*m", "lbf*ft")
    assert round(spec.uncertainty, 9) == Decimal("1.355817948")
    # A thousandth of an inch is 0.0254 mm by definition.
    assert sheet.readings["shaft-play"].uncertainty == Decimal("0.0127")
    rows = sheet.readings["bolt-torque"].limit.rows
    assert [(row.key, row.low, row.high) for row in rows] == [(Decimal("8.8"), 20, 28), (Decimal("10.9"), 30, 38)]
    knurled = sheet.pronunciations["knurled"]
    assert (knurled.phones, knurled.like) == (("N", "ER", "L", "D"), "nurled")


def test_a_torque_in_a_group_is_tightened_on_each_side() -> None:
    text = (
        PUMP.replace("readings:\n", "torques:\n  nuts: {stages: [10, 20], unit: N*m, condition: dry}\nreadings:\n", 1)
        .replace(
            "  - id: rebuild\n",
            "  - for each: side\n    steps:\n      - {id: <side>-nuts, say: Tighten the <side> nuts., torque: nuts,"
            " hold: confirm <side> nuts are all on, fit: inlet-plug, minutes: 3}\n  - id: rebuild\n",
        )
        .replace("    fit: [inlet-plug]\n", "")
        .replace(", fit: inlet-plug", "")
        .replace("    take off: [inlet-plug]\n", "")
    )
    sheet = load_text(text.replace("  inlet-plug: {kind: temporary}\n", ""), "pump.yaml")
    ids = ["left-nuts-stage-1", "left-nuts", "right-nuts-stage-1", "right-nuts"]
    assert [step.id for step in sheet.steps if step.torque] == ids
    assert [step.hold.id for step in sheet.steps if step.hold][1:] == ["left-nuts-stage-1", "right-nuts-stage-1"]
    assert [step.minutes for step in sheet.steps if step.torque] == [None, Decimal(3)] * 2


def test_the_id_of_a_stage_is_not_taken_twice() -> None:
    text = (
        PUMP.replace("readings:\n", "torques:\n  nuts: {stages: [10, 20], unit: N*m, condition: dry}\nreadings:\n", 1)
        .replace("  - id: run\n", "  - id: run\n    torque: nuts\n")
        .replace("id: polish", "id: run-stage-1")
    )
    assert [fault.slug for fault in check_text(text, "pump.yaml")] == ["sheet-id-twice"]


def test_what_is_spoken_ends_before_the_next_begins() -> None:
    """A hazard or a step without a full stop gets one, and is still the same caution to the proofreader."""
    for text in (
        "after it stops.",
        "Water can hit your eyes.",
        "Polish the new ring.",
        "Take the plug out of the inlet.",
    ):
        assert check_text(PUMP.replace(text, text[:-1]), "pump.yaml") == []
        assert load_text(PUMP.replace(text, text[:-1]), "pump.yaml") == load_text(PUMP, "pump.yaml")


def test_a_group_of_steps_goes_through_one_side_and_then_the_other() -> None:
    text = PUMP.replace(
        "  - id: rebuild\n",
        "  - for each: side\n    steps:\n      - {id: <side>-a, say: Turn the <side> knob.}\n"
        "      - {id: <side>-b, say: Turn it back.}\n  - id: <side>-c\n    say: Wipe the <side> knob.\n"
        "  - id: rebuild\n",
    )
    sheet = load_text(text, "pump.yaml")
    assert [step.id for step in sheet.steps][4:10] == ["left-a", "left-b", "right-a", "right-b", "left-c", "right-c"]
    assert sheet.steps[6].say == "Turn the right knob."


def test_a_marked_limit_is_that_of_its_own_side() -> None:
    demo = load_sheet(HERE.parents[1] / "demo" / "trailer-hub-brake.yaml")
    assert demo.readings["left-drum"].limit.from_marking == "left-maximum"
    assert demo.readings["right-drum"].limit.from_marking == "right-maximum"
    assert 20 <= len(demo.steps) <= 25
    assert demo.steps[0].hold is not None


# What a YAML 1.1 reader makes of these: False, octal ten, ninety (yaml.org/type: bool, int).
@pytest.mark.parametrize(
    ("old", "new", "title"),
    [("Yearly service of the pump", "no", "no"), ("Yearly service of the pump", "1:30", "1:30"),
     ("Yearly service of the pump", "012", "012"), ("Yearly service of the pump", "2026-01-02", "2026-01-02")],
)  # fmt: skip
def test_scalars_stay_as_they_are_written(old: str, new: str, title: str) -> None:
    assert load_text(PUMP.replace(old, new), "pump.yaml").title == title


@pytest.mark.parametrize(
    "odd", ["no", "off", "012", "0x1F", "0b11", "1_000", "1:30", "1e3", ".5", "5.", ".inf", "+5", "1,5", "½", "٣"]
)
def test_odd_numbers_are_refused(odd: str) -> None:
    """What YAML 1.1, 1.2 or a spreadsheet would take for a number (or for something else) without a word."""
    faults = check_text(PUMP.replace("    minutes: 5", f"    minutes: {odd}"), "pump.yaml")
    assert [fault.slug for fault in faults] == ["sheet-number"]


@pytest.mark.parametrize("odd", ["no", "off", "y", "n", "true", "012", "1_000", "1:30:00", "2026-01-02", "~x", ".nan"])
def test_odd_words_stay_words(odd: str) -> None:
    assert load_text(PUMP.replace("Yearly service of the pump", odd), "pump.yaml").title == odd


def test_yes_and_no_are_only_yes_and_no() -> None:
    for odd in ("on", "y", "1", "ja"):
        faults = check_text(PUMP.replace("final gate: yes", f"final gate: {odd}"), "pump.yaml")
        assert [fault.slug for fault in faults if fault.slug != "sheet-gate"] == ["sheet-yes-no"], odd


@pytest.mark.parametrize("encoding", ["utf-16", "utf-16-le", "utf-16-be", "utf-32", "latin-1", "cp1252", "shift-jis"])
def test_other_encodings_are_refused(tmp_path: Path, encoding: str) -> None:
    path = tmp_path / "pump.yaml"
    text = PUMP.replace(
        "Yearly", "ポンプ" if encoding == "shift-jis" else "Müller’s" if encoding == "cp1252" else "Jährlich"
    )
    path.write_bytes(text.encode(encoding))
    assert {fault.slug for fault in check_file(path)} <= {"sheet-encoding", "sheet-yaml"}
    assert check_file(path)


@pytest.mark.parametrize(
    "key",
    [
        "title: Yearly service of the pump",
        "say: Polish the new ring.",
        "hazard: The pump holds pressure after it stops.",
        "name: feeler gauge",
        "[rotor]",
    ],
)
@pytest.mark.parametrize("bad", ["<b>x</b>", "a &amp; b", "\\x07 bell", "\\u202e turned", "\\x1b[31m red", "<script>"])
def test_markup_and_control_characters_reach_nobody(key: str, bad: str) -> None:
    head = key.partition(": ")[0] + ": " if ": " in key else ""
    quoted = f'{head}"{bad}"' if head else f'["{bad}"]'
    assert key in PUMP
    slugs = {fault.slug for fault in check_text(PUMP.replace(key, quoted.replace("\\\\", "\\")), "pump.yaml")}
    assert slugs & {"sheet-text", "sheet-id", "sheet-name", "sheet-spread"}, slugs


def test_a_byte_order_mark_and_windows_line_ends_are_taken(tmp_path: Path) -> None:
    path = tmp_path / "pump.yaml"
    path.write_bytes(b"\xef\xbb\xbf" + PUMP.replace("\n", "\r\n").encode())
    assert load_sheet(path) == load_text(PUMP, "pump.yaml")
    assert check_file(path) == []


@pytest.mark.parametrize(
    ("content", "message"),
    [
        (b"", r"^s\.yaml line 1: The file is empty\..*\[sheet-empty\]$"),
        (b"# nothing\n", r"^s\.yaml line 1: The file is empty\..*\[sheet-empty\]$"),
        (b"just words\n", r"^s\.yaml line 1: This is not a job sheet: it has no keys\..*\[sheet-shape\]$"),
        (b"- a\n- b\n", r"^s\.yaml line 1: This is not a job sheet: it has no keys\..*\[sheet-shape\]$"),
        (b"title: x\nnote: \xe9t\xe9\n", r"^s\.yaml line 2: The file is not UTF-8 text\..*\[sheet-encoding\]$"),
        ("title: x\n".encode("utf-16"), r"^s\.yaml line 1: The file is not UTF-8 text\..*\[sheet-encoding\]$"),
        (b"title: \x00\n", r"^s\.yaml line 1: There is a character that YAML does not allow\..*\[sheet-yaml\]$"),
        (b"a: " + b"x" * 1_000_000, r"^s\.yaml: The file is larger than 1 MB\..*\[sheet-too-big\]$"),
        (b"%YAML 9.9\n---\na: b\n", r"^s\.yaml line 1: This is not YAML.*\[sheet-yaml\]$"),
        (b"? [a, b]\n: c\n", r"A key is not a plain word\..*\[sheet-yaml\]"),
    ],
)  # fmt: skip
def test_files_that_are_no_sheets(tmp_path: Path, content: bytes, message: str) -> None:
    path = tmp_path / "s.yaml"
    path.write_bytes(content)
    with pytest.raises(SheetFaults, match=message):
        load_sheet(path)
    assert check_file(path)


def test_files_that_are_not_there(tmp_path: Path) -> None:
    with pytest.raises(SheetFaults, match=r"cannot be read: No such file or directory\..*\[sheet-missing-file\]"):
        load_sheet(tmp_path / "none.yaml")
    assert [f.slug for f in check_file(tmp_path)] == ["sheet-missing-file"]


def test_a_huge_file_is_not_read_whole(tmp_path: Path) -> None:
    path = tmp_path / "huge.yaml"
    with path.open("wb") as file:
        file.truncate(50_000_000)
    assert [f.slug for f in check_file(path)] == ["sheet-too-big"]


def test_a_billion_laughs_are_refused_before_they_grow() -> None:
    text = "a0: &a0 [x, x]\n" + "".join(f"a{i}: &a{i} [*a{i - 1}, *a{i - 1}]\n" for i in range(1, 60))
    faults = check_text(text, "laughs.yaml")
    assert {f.slug for f in faults} == {"sheet-anchor"}
    assert len(faults) == 60 + 59 * 2


def test_a_deep_nest_is_refused() -> None:
    assert [f.slug for f in check_text("a: " + "[" * 900 + "]" * 900, "deep.yaml")] == ["sheet-deep"]
    assert [f.slug for f in check_text("a: " + "{a: " * 300 + "}" * 300, "deep.yaml")] == ["sheet-deep"]


@pytest.mark.parametrize("cut", range(0, len(PUMP), 7))
def test_a_sheet_cut_anywhere_never_raises(cut: int) -> None:
    for fault in check_text(PUMP[:cut], "cut.yaml"):
        assert str(fault).startswith("cut.yaml")
        assert 0 <= fault.line <= PUMP.count("\n") + 1


@pytest.mark.parametrize("text", [PUMP, PISTON], ids=["pump", "piston"])
def test_a_sheet_with_a_line_gone_never_raises(text: str) -> None:
    lines = text.splitlines(keepends=True)
    for number in range(len(lines)):
        for fault in check_text("".join(lines[:number] + lines[number + 1 :]), "gap.yaml"):
            assert fault.slug.startswith("sheet-")


@pytest.mark.parametrize("text", [PUMP, PISTON], ids=["pump", "piston"])
def test_any_value_of_any_shape_never_raises(text: str) -> None:
    lines = text.splitlines(keepends=True)
    for number, line in enumerate(lines):
        key = line.rstrip("\n").partition(": ")[0]
        for value in ("", "[{a: b}]", "<wheel>"):
            for fault in check_text("".join([*lines[:number], f"{key}: {value}\n", *lines[number + 1 :]]), "odd.yaml"):
                assert str(fault).startswith("odd.yaml")


def test_pictures_stay_in_the_folder_of_the_sheet(tmp_path: Path) -> None:
    folder = tmp_path / "sheets"
    folder.mkdir()
    (tmp_path / "outside.png").write_bytes(b"x")
    (folder / "inside.png").write_bytes(b"x")
    (folder / "link.png").symlink_to(tmp_path / "outside.png")
    for name, slugs in (("inside.png", []), ("link.png", ["sheet-picture"]), ("none.png", ["sheet-picture"])):
        path = folder / "pump.yaml"
        path.write_text(PUMP.replace("    minutes: 5", f"    picture: {name}"), encoding="utf-8")
        assert [fault.slug for fault in check_file(path)] == slugs


def test_a_german_sheet_keeps_its_own_words() -> None:
    text = (HERE / "german-pump.yaml").read_text(encoding="utf-8")
    assert check_text(text, "pumpe.yaml") == []
    assert load_text(text, "pumpe.yaml").readings["rad"].name == "lüfterrad"
    other = check_text(text.replace("bestätige", "confirm"), "pumpe.yaml")
    assert [fault.slug for fault in other] == ["sheet-hold-begin"]

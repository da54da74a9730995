"""Each rule of the proofreader on a sheet that trips it and on a near one that does not.

A row is the pump's sheet with one place changed: `old` becomes `bad`, and `near` in the near one. What is a fault is
common practice (no source) where no other source stands beside the row.
"""

# ruff: noqa: E501  (a row of the table is read as one line)

from __future__ import annotations

import re
from pathlib import Path

import pytest

from bench_voice.sheets import check_text, proofread

PUMP = (Path(__file__).parent / "good" / "pump.yaml").read_text(encoding="utf-8")
RING = "say: Polish the new ring."
HOLD = "hold: confirm pump is unplugged and drained"
RUN = "    requires: [filter]\n"
BOLTS = """torques:
  bolts: {unit: N*m, within: 3, stages: [10, 20, 30], order: [front, rear], condition: dry}
readings:
"""
TABLE = """limits:
  tabled:
    unit: N*m
    marked on the part: plate
    table:
      - {for: 8.8, between: [20, 28]}
      - {for: 10.9, between: [30, 38]}
"""

ROWS = [
    # The order of things.
    ("sheet-temporary-left", "    take off: [inlet-plug]\n", "", "    take off: inlet-plug\n"),
    ("sheet-part-left", "    put back: [filter]\n", "", "    put back: filter\n"),
    ("sheet-renew-left", "    fit new: [gasket]\n", "", "    fit new: gasket\n"),
    ("sheet-item-order", "    remove: [filter, gasket]", "    remove: [filter]", "    remove: [gasket, filter]"),
    ("sheet-item-maybe", "    say: Polish the new ring.\n",
     "    say: Polish the new ring.\n    take off: [tag]\n", "    say: Polish the new ring.\n    fit: [tag]\n    take off: []\n"),
    ("sheet-required-early", "    looks: [rotor]\n", "    looks: [rotor]\n    requires: [filter]\n", "    looks: [rotor]\n    requires: []\n"),
    ("sheet-unreachable", "only if replaced: left-gap", "only if replaced: outlet", "only if replaced: right-gap"),
    ("sheet-needs", "needs: [inspect]", "needs: [run]", "needs: [isolate, inspect]"),
    ("sheet-loop", "needs: [inspect]", "needs: [polish]", "needs: [strip]"),
    ("sheet-gate", "    final gate: yes\n", "    final gate: no\n", "    final gate: 'true'\n"),
    ("sheet-reading-unasked", "[plate, outlet]\n", "[plate]\n", "[plate, 'outlet']\n"),
    ("sheet-reading-twice", "[plate, outlet]\n", "[plate, outlet, left-gap]\n", "[plate, outlet, outlet]\n"),
    ("sheet-look-unasked", "    looks: [rotor]\n", "    looks: []\n", "    looks: rotor\n"),
    ("sheet-item-unused", "  filter:\n", "  filter:\n  lid:\n", "  filter: {also called: [lid]}\n"),
    ("sheet-lift-hold", RING, "say: Lift the machine.", "say: Lift the filter off the machine."),
    ("sheet-lift-hold", RING, "say: Raise the front of the trailer.", f"say: Raise the front of the trailer.\n    {HOLD.replace('pump', 'wheel')}"),
    ("sheet-lift-hold", RING, "say: Jack it up.", "say: Put the jack away."),
    ("sheet-lift-hold", RING, "say: Lift the engine and look below.", "say: Lift the engine lid and look below."),
    ("sheet-lift-hold", RING, "say: Raise the side with the jack.", "say: Raise the side door with the jack."),
    # Figures.
    ("sheet-limit-cross", "[0.20, 0.40]", "[0.40, 0.40]", "[0.20, 0.39]"),
    ("sheet-limit-cross", "new: 0.30", "new: 0.41", "new: 0.40"),
    ("sheet-limit-cross", "plausible: [0, 2]", "plausible: [0.21, 2]", "plausible: [0.20, 2]"),
    ("sheet-dimension", "[outlet pressure]", "[outlet torque]", "[outlet]"),
    ("sheet-dimension", "  stamp: {unit: bar}", "  stamp: {unit: V}", "  stamp: {unit: bar, source: plate}"),
    ("sheet-dimension", "[outlet pressure]", "[hose diameter]", "[diameter plate pressure]"),
    # A fifth of the tolerance (0.20 mm) is the most: common practice in metrology, from memory.
    ("sheet-coarse", "uncertainty: 0.01", "uncertainty: 0.041", "uncertainty: 0.02"),
    ("sheet-marking", "[plate, outlet]", "[outlet, plate]", "[plate, outlet]"),
    # A figure of another unit is never taken for the limit's own.
    ("sheet-marking", "  stamp: {unit: bar}", "  stamp: {unit: psi}", "  stamp: {unit: bar, source: plate}"),
    ("sheet-coarse", "uncertainty: 0.01", "unit: thou, uncertainty: 2", "unit: thou, uncertainty: 0.5"),
    ("sheet-pronunciation", "cautions:\n", "pronunciations: {rotar: row tar}\ncautions:\n", "pronunciations: {rotor: row tar}\ncautions:\n"),
    ("sheet-unknown-word", "  rotor:\n", "  rotor: {name: sprongle}\n", "  rotor: {name: sprongle}\npronunciations: {sprongle: S P R AA NG L}\n"),
    ("sheet-sound-alike", "  rotor:\n", "  rotor: {name: sprongle}\n  pad: {name: wheel}\npronunciations: {sprongle: real}\n",
     "  rotor: {name: sprongle}\n  pad: {name: wheel}\npronunciations: {sprongle: table}\n"),
    # Torques and tables.
    ("sheet-torque", "readings:\n", BOLTS, BOLTS + "  bolt-torque: {limit: bolts}\n"),
    ("sheet-torque", "readings:\n", BOLTS.replace("30]", "30, {turn: 90}]") + "  bolt-torque: {limit: bolts}\n", BOLTS + "  bolt-torque: {limit: bolts}\n"),
    ("sheet-torque", "readings:\n", BOLTS.replace("[10, 20, 30]", "[10, 30, 20]") + "  bolt-torque: {limit: bolts}\n", BOLTS.replace("[10, 20, 30]", "[30]") + "  bolt-torque: {limit: bolts}\n"),
    ("sheet-figures", "readings:\n", BOLTS + "  bolt-torque: {limit: bolts, also called: [thirty]}\n", BOLTS + "  bolt-torque: {limit: bolts}\n"),
    ("sheet-table", "limits:\n", TABLE.replace("10.9", "8.80"), TABLE),
    ("sheet-marking", "limits:\n", TABLE.replace("plate", "outlet"), TABLE),
    ("sheet-limit-cross", "limits:\n", TABLE.replace("[30, 38]", "[38, 30]"), TABLE),
    ("sheet-limit-unused", "  stamp: {unit: bar}", "  stamp: {unit: bar}\n  more: {unit: mm}", "  stamp: {unit: bar}"),
    # Hold phrases: interface.md of the project wants "confirm" and four or more words that name the thing.
    ("sheet-hold-begin", HOLD, "hold: pump is unplugged and well drained", "hold: Confirm pump is unplugged and drained."),
    ("sheet-hold-short", HOLD, "hold: confirm pump is drained", "hold: confirm pump is now drained"),
    ("sheet-hold-common", HOLD, "hold: confirm we can all go on", "hold: confirm we can all drain"),
    ("sheet-hold-near", RUN, f"{RUN}    hold: confirm pump is unplugged and trained\n", f"{RUN}    hold: confirm pump is unplugged and dry\n"),
    ("sheet-hold-near", RUN, f"{RUN}    {HOLD}\n", f"{RUN}    hold: confirm pump is plugged and running\n"),
    ("sheet-id", "id: pump one", f"id: {'p' * 81}", f"id: {'p' * 80}"),
    ("sheet-number", "uncertainty: 0.01", "uncertainty: -0.01", "uncertainty: 0.02"),
    ("sheet-hold-words", HOLD, "hold: confirm pump is unplugged & drained", "hold: confirm the pump's plug is out"),
    ("sheet-hold-until", HOLD, "hold: {phrase: confirm pump is unplugged and drained, until: isolate}", "hold: {phrase: confirm pump is unplugged and drained, until: run}"),
    ("sheet-hold-until", RUN, f"{RUN}    hold: {{phrase: confirm area is clear and dry, until: strip}}\n", f"{RUN}    hold: {{phrase: confirm area is clear and dry, again: no}}\n"),
    # Cautions.
    ("sheet-caution-late", RING, "say: 'Polish the ring. Danger: it is sharp.'", "say: Polish the ring with caution."),
    ("sheet-caution-late", "say: Take the filter off and", "say: Warning! Take the filter off and", "say: Take the filter with its warning label off and"),
    ("sheet-caution-unused", "    cautions: [pressure]\n", "", "    cautions: pressure\n"),
    ("sheet-caution-unused", "cautions:\n", "cautions:\n  edge: {signal: notice, hazard: Sharp edges, consequence: Cuts, avoid: Wear gloves}\n", "cautions:\n"),
    # 29 CFR 1910.1001, appendix F: brake dust is not blown, and not brushed dry.
    ("sheet-dust-dry", RING, "say: Blow the dust out of the drum.", "say: Never blow the dust out of the drum."),
    ("sheet-dust-dry", RING, "say: Clean the brake shoes with compressed air.", "say: Clean the ring with compressed air."),
    ("sheet-dust-dry", RING, "say: Sweep the clutch dry.", "say: Sweep the floor dry."),
    ("sheet-dust-dry", RING, "say: Use an air gun on the lining.", "say: Do not use an air gun on the lining."),
    ("sheet-dust-dry", RING, "say: Wipe the brake drum dry.", "say: Wet the brake drum and wipe it."),
    ("sheet-dust-dry", RING, "say: Clean the brake drum dry.", "say: Clean the brake drum and let it dry."),
    ("sheet-dust-dry", RING, "say: Sweep the brake dust up dry.", "say: Sweep the wet brake dust up before it is dry."),
    # Sentences.
    ("sheet-sentence-long", RING, f"say: {'go ' * 26}on.", f"say: {'go ' * 24}on."),
    ("sheet-sentence-long", "consequence: Water can hit your eyes.", f"consequence: {'go ' * 26}on.", f"consequence: {'go ' * 24}on."),
    ("sheet-sentence-long", "    final gate: yes\n", f"    final gate: yes\n    follow up: {'go ' * 26}on.\n", f"    final gate: yes\n    follow up: {'go ' * 24}on.\n"),
    ("sheet-dust-dry", "avoid: Open the drain and wait until it runs dry.", "avoid: Blow the drum out first.", "avoid: Never blow the drum out."),
    ("sheet-name-command", "  rotor:\n", "  rotor: {name: sound check}\n", "  rotor: {name: sound plate}\n"),
    ("sheet-name-command", "  rotor:\n", "  rotor: {name: put back plate}\n", "  rotor: {name: back plate}\n"),
    ("sheet-name-command", "  rotor:\n", "  rotor: {name: twenty two}\n", "  rotor: {name: rotor two}\n"),
    ("sheet-step-long", RING, f"say: {'Go on now. ' * 21}", f"say: {'Go on now. ' * 20}"),
    ("sheet-figures", "measure both gaps.", "measure both gaps, at least 0.2 mm.", "measure both gaps in 2 places."),
    # Names.
    ("sheet-sound-alike", "  rotor:\n", "  rotor: {also called: [pan]}\n  pad:\n", "  rotor: {also called: [wheel]}\n  pad:\n"),
    ("sheet-name-twice", "  rotor:\n", "  rotor: {also called: [pad]}\n  pad:\n", "  rotor: {also called: [rotor]}\n  pad:\n"),
    ("sheet-name-command", "  rotor:\n", "  rotor: {name: mark}\n", "  rotor: {name: red mark}\n"),
    ("sheet-name-command", "  rotor:\n", "  rotor: {name: timer belt}\n", "  rotor: {name: belt timer}\n"),
    ("sheet-look-alike", "  rotor:\n", "  rotor: {also called: [sproggle]}\n  pad: {name: sproggla}\n",
     "  rotor: {also called: [sproggle]}\n  pad: {name: tringler}\n"),
    ("sheet-unknown-word", "  rotor:\n", "  rotor: {name: sprongle}\n", "  rotor: {name: bell}\n"),
]  # fmt: skip


def _text(old: str, new: str) -> str:
    assert old in PUMP
    text = PUMP.replace(old, new, 1)
    if "\n  pad:" in text:
        text = text.replace("looks: [rotor]", "looks: [rotor, pad]")
    if "bolt-torque:" in text:
        more = "Tighten to 30 N*m. " if "thirty" in text else ""
        text = text.replace(
            "say: Fit the new gasket", f"torque: bolts\n    readings: [bolt-torque]\n    say: {more}Fit the new gasket"
        )
    if "  tabled:" in text:
        text = text.replace("readings:\n", "readings:\n  tight: {limit: tabled}\n", 1).replace(
            "[plate, outlet]", "[plate, outlet, tight]"
        )
    if "[tag]" in text:
        text = text.replace("  filter:\n", "  filter:\n  tag: {kind: temporary}\n")
        if "    take off: [tag]" in text:
            text = text.replace("    looks: [rotor]\n", "    looks: [rotor]\n    fit: [tag]\n")
        else:
            text = text.replace("take off: [inlet-plug]", "take off: [inlet-plug, tag]")
    return text


@pytest.mark.parametrize(("slug", "old", "bad", "near"), ROWS, ids=[f"{i}-{row[0]}" for i, row in enumerate(ROWS)])
def test_rule(slug: str, old: str, bad: str, near: str) -> None:
    assert slug in {fault.slug for fault in check_text(_text(old, bad), "bad.yaml")}
    # Words that the dictionary lacks are in some near sheets on purpose; nothing else may be said about them.
    said = {str(fault) for fault in check_text(_text(old, near), "near.yaml")}
    assert {line for line in said if slug in line or "sheet-unknown-word" not in line} == set()


def slugs_of(*files: str) -> set[str]:
    """Every slug that these modules can raise, read from their source."""
    folder = Path(proofread.__globals__["__file__"]).parent
    return {slug for file in files for slug in re.findall(r'"(sheet-[a-z-]+)"', (folder / file).read_text("utf-8"))}


def test_every_proofreading_rule_has_a_row() -> None:
    rules = slugs_of("proofread.py", "proof_flow.py", "proof_limits.py", "proof_words.py", "torque.py")
    # A torque's own stages and a limit's table are looked at while the job is built.
    assert {row[0] for row in ROWS} == rules | {"sheet-table"}
    assert len(rules) >= 38

"""Good sheets made by a rule, for the tests and the bench: any number of steps, each part off once and on once."""

from __future__ import annotations

# Common words that sound apart from each other, two of them make a name.
_FIRST = ("front", "rear", "upper", "lower", "left", "right", "inner", "outer", "big", "yellow")
_THING = ("bearing", "filter", "cover", "spring", "washer", "chain", "motor", "handle", "bracket", "piston")
_MORE = ("valve", "cable", "lever", "hose", "gasket", "sensor", "flange", "magnet", "button", "collar")


# Every other sheet also has a torque, a limit by class, an instrument in its own unit and a word with a pronunciation.
_TIGHT = """  plain: {unit: count}
  tight:
    unit: N*m
    marked on the part: strength
    table: [{for: 8.8, between: [20, 28]}, {for: 10.9, at least: 30}]
torques:
  lid: {at: 24, within: 4, unit: N*m, order: [1, 3, 2], condition: dry, instrument: wrench}
instruments:
  wrench: {name: torque wrench, unit: lbf*ft, uncertainty: 0.5}
pronunciations: {sproggled: S P R AA G AH L D}""".splitlines()
_READ = """  strength: {name: sproggled head, limit: plain, marking: yes}
  tight: {limit: tight, instrument: wrench}""".splitlines()


def names(count: int) -> list[str]:
    """`count` names that sound apart; at most 1000."""
    out = [f"{a} {b}" for a in _FIRST for b in _THING] + [f"{a} {b} {c}" for a in _FIRST for b in _MORE for c in _THING]
    assert count <= len(out)
    return out[:count]


def sheet(n_steps: int, seed: int = 0) -> str:
    """YAML of a good sheet with `n_steps` steps (at least 4); `seed` shifts the names, units and numbers."""
    pairs = (n_steps - 2) // 2
    all_names = names(pairs + 10)
    shift = seed % 10
    named = all_names[shift : shift + pairs]
    units = ("mm", "bar", "N*m", "V", "ohm", "degC", "L", "rpm")
    lines = [
        "# Generated: a good sheet of an invented machine.",
        f"sheet: generated-{seed}",
        "title: Service of a make-believe machine",
        "version: 1",
        "machine: {name: Make-believe machine, id: machine one}",
        "source: Invented for the tests.",
        "limits:",
        f"  usual: {{between: [{seed + 1}.0, {seed + 3}.5], unit: {units[seed % len(units)]}}}",
        *(_TIGHT if seed % 2 else []),
        "readings:",
        *(_READ if seed % 2 else []),
        *(f"  read-{name.replace(' ', '-')}: {{name: {name}, limit: usual}}" for name in named),
        "items:",
        *(f"  {name.replace(' ', '-')}:" for name in named),
        "steps:",
        "  - id: begin",
        "    say: Pull the plug and hang up the sign.",
        "    hold: confirm machine is switched off",
    ]
    for index, name in enumerate(named):
        key = name.replace(" ", "-")
        lines += [f"  - id: off-{index}", f"    say: Take the {name} off and measure it.", f"    remove: [{key}]"]
        lines += [f"    readings: [read-{key}]"]
    for index, name in enumerate(reversed(named)):
        key = name.replace(" ", "-")
        lines += [f"  - id: back-{index}", f"    say: Put the {name} back.", f"    put back: [{key}]"]
    for index in range(n_steps - 2 - 2 * pairs):
        lines += [f"  - id: wipe-{index}", "    say: Wipe the case."]
    lines += ["  - id: end", "    say: Put the tools away.", "    final gate: yes"]
    if seed % 2:
        lines += ["    readings: [strength, tight]", "    torque: lid"]
    return "\n".join(lines) + "\n"

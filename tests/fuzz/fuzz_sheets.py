"""Random job sheets of an invented saw: as YAML for the program, and as plain values for the judge."""

from __future__ import annotations

from dataclasses import dataclass, field
from random import Random

MACHINE = "saw one"


@dataclass
class Reading:
    name: str
    low: str | None = None
    high: str | None = None
    doubt: str = "0"
    points: int = 1
    spread: str | None = None
    pair: str | None = None
    within: str | None = None
    marking: str | None = None  # the reading that gives the limit
    rows: dict[str, tuple[str, str]] = field(default_factory=dict)
    values: tuple[str, ...] = ()  # what somebody may say of it


@dataclass
class Step:
    id: str
    hold: str | None = None
    asks_again: bool = True
    until: str | None = None
    readings: list[str] = field(default_factory=list)
    looks: list[str] = field(default_factory=list)
    opens: dict[str, list[str]] = field(default_factory=dict)  # key of the sheet -> items
    closes: dict[str, list[str]] = field(default_factory=dict)
    requires: list[str] = field(default_factory=list)
    needs: list[str] = field(default_factory=list)
    only_if: str | None = None
    gate: bool = False

    @property
    def opened(self) -> list[str]:
        return [item for items in self.opens.values() for item in items]

    @property
    def closed(self) -> list[str]:
        return [item for items in self.closes.values() for item in items]


@dataclass
class Plan:
    """A sheet. `items`: id -> kind, as the sheet writes it."""

    id: str
    readings: dict[str, Reading]
    looks: list[str]
    items: dict[str, str]
    steps: list[Step]

    @property
    def text(self) -> str:
        out = [f"sheet: {self.id}", "title: Service of the saw", "version: 1"]
        out += [f"machine: {{name: Make-believe saw, id: {MACHINE}}}", "source: Invented for this test."]
        doubt = next((one.doubt for one in self.readings.values() if one.doubt != "0"), None)
        if doubt:
            out.append(f"instruments: {{caliper: {{name: caliper, uncertainty: {doubt}}}}}")
        out += ["readings:"] if self.readings else []
        for key, one in self.readings.items():
            out.append(f"  {key}: {{{', '.join(_reading(one))}}}")
        if self.looks:
            out += ["looks:", *(f"  {look}:" for look in self.looks)]
        out.append("items:")
        out += [f"  {item}: {{kind: {kind}}}" for item, kind in self.items.items()]
        out.append("steps:")
        for step in self.steps:
            out += _step(step)
        return "\n".join(out) + "\n"


def _reading(one: Reading) -> list[str]:
    unit = "count" if one.values and "8.8" in one.values else "mm"
    limit = [f"unit: {unit}", "source: invented"]
    if one.rows:
        rows = ", ".join(f"{{for: {key}, between: [{low}, {high}]}}" for key, (low, high) in one.rows.items())
        limit.append(f"table: [{rows}]")
    elif one.low is not None and one.high is not None:
        limit.append(f"between: [{one.low}, {one.high}]")
    elif one.low is not None:
        limit.append(f"at least: {one.low}")
    elif one.high is not None:
        limit.append(f"at most: {one.high}")
    if one.marking:
        limit.append(f"marked on the part: {one.marking}")
    out = [f"limit: {{{', '.join(limit)}}}"]
    if one.points > 1:
        out.append(f"points: {one.points}")
    if one.doubt != "0":
        out.append("instrument: caliper")
    if one.spread:
        out.append(f"spread: {one.spread}")
    if one.within:
        out += [f"pair: {one.pair}", f"pair within: {one.within}"]
    if one.low is None and one.high is None and not one.rows:
        out.append("marking: yes")
    return out


def _step(step: Step) -> list[str]:
    out = [f"  - id: {step.id}", f"    say: Now do the {step.id.replace('-', ' ')} work."]
    if step.hold:
        more = "" if step.asks_again else ", again: no"
        more += f", until: {step.until}" if step.until else ""
        out.append(f"    hold: {{phrase: {step.hold}{more}}}")
    lists = {"readings": step.readings, "looks": step.looks, "requires": step.requires, "needs": step.needs}
    for key, items in {**lists, **step.opens, **step.closes}.items():
        if items:
            out.append(f"    {key}: [{', '.join(items)}]")
    if step.only_if:
        out.append(f"    only if replaced: {step.only_if}")
    if step.gate:
        out.append("    final gate: yes")
    return out


def plan(seed: int) -> Plan:
    """Sections of the job, each there or not; limits read off the part, out of a table, pairs, spreads, holds."""
    rng = Random(seed)
    readings: dict[str, Reading] = {}
    items = {"red-tag": "temporary", "side-door": "part"}
    looks = ["belt"] if rng.random() < 0.7 else []
    until = rng.choice((None, "shut", "shut"))
    isolate = Step("isolate", "confirm saw is unplugged and tagged", rng.random() < 0.7, until)
    isolate.opens = {"fit": ["red-tag"]}
    steps = [isolate, Step("strip", looks=looks, opens={"remove": ["side-door"]})]
    has_drum = rng.random() < 0.7
    if has_drum:
        points = rng.choice((1, 2))
        readings["drum-maximum"] = Reading("drum maximum", values=("202", "203", "204"))
        readings["drum"] = Reading(
            "drum", high="203.0", doubt=rng.choice(("0", "0.1")), points=points, marking="drum-maximum",
            spread="0.4" if points > 1 else None, values=("201.5", "202", "202.9", "203", "203.05", "203.6", "204.5"),
        )  # fmt: skip
        steps.append(Step("drum-check", readings=["drum-maximum", "drum"]))
    if rng.random() < 0.6:
        readings["bolt-class"] = Reading("bolt class", values=("8.8", "10.9"))
        rows = {"8.8": ("20", "28"), "10.9": ("30", "38")}
        readings["bolt-length"] = Reading(
            "bolt length", marking="bolt-class", rows=rows, values=("19", "20", "24", "28", "31", "36", "39")
        )
        needs = ["drum-check"] if has_drum and rng.random() < 0.5 else []
        steps.append(Step("bolts", readings=["bolt-class", "bolt-length"], needs=needs))
    if rng.random() < 0.5:
        steps.append(Step("raise", "confirm frame rests on both blocks", rng.random() < 0.8, "settle"))
    if rng.random() < 0.85:
        points, doubt = rng.choice((1, 1, 2, 3)), rng.choice(("0", "0.1"))
        for side, other in (("left", "right"), ("right", "left")):
            readings[f"{side}-gap"] = Reading(
                f"{side} gap", low="2.0", doubt=doubt, points=points, spread="0.6" if points > 1 else None,
                pair=f"{other}-gap", within="0.5", values=("1.5", "1.85", "1.95", "2.05", "2.2", "2.4", "2.7", "3.1"),
            )  # fmt: skip
        steps.append(Step("left-wheel", readings=["left-gap"]))
        if rng.random() < 0.6:
            steps.append(Step("left-bearing", only_if="left-gap", needs=["left-wheel"]))
        steps.append(Step("right-wheel", readings=["right-gap"]))
    has_seal = rng.random() < 0.6
    if has_seal:
        items["seal"] = "renew"
        steps += [Step("seal-off", opens={"remove": ["seal"]}), Step("seal-on", closes={"fit new": ["seal"]})]
    if any(step.id == "raise" for step in steps):
        steps.append(Step("settle"))
    shut = Step("shut", requires=["seal"] if has_seal else [], closes={"put back": ["side-door"]})
    last = Step("finish", closes={"take off": ["red-tag"]}, gate=True)
    if rng.random() < 0.4:
        last.hold = "confirm all tools are put away"
    return Plan(f"saw-job-{seed}", readings, looks, items, [*steps, shut, last])

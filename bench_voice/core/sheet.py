"""The frozen job sheet that the rules work on. Built by `bench_voice.sheets` from YAML; nothing here reads files.

Units are strings in pint's spelling from the closed list of the README ("mm", "N*m", …).
Numbers are `Decimal` and keep the digits that were written.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass, field
from decimal import Decimal
from enum import StrEnum


class Signal(StrEnum):
    """Signal words of ANSI Z535, worst first."""

    DANGER = "danger"
    WARNING = "warning"
    CAUTION = "caution"
    NOTICE = "notice"


class ItemKind(StrEnum):
    """What the register holds."""

    TEMPORARY = "temporary"  # fitted now, must come off before use: tape, strap, plug, tie
    PART = "part"  # taken off now, must go back on
    RENEW = "renew"  # thrown away on removal, a new one must be fitted: split pin, seal
    REMINDER = "reminder"  # asked for in words on the way


@dataclass(frozen=True)
class Caution:
    """Spoken before the step it concerns: hazard, what can happen, how to avoid it."""

    signal: Signal
    hazard: str
    consequence: str
    avoid: str


@dataclass(frozen=True)
class LimitRow:
    """A row of a limit's table: what counts where the marking is exactly `key` (a size, a class)."""

    key: Decimal
    low: Decimal | None = None
    high: Decimal | None = None


@dataclass(frozen=True)
class Limit:
    """A reading's limit, in `unit`. At least `low`, at most `high`, or between both; both None: recorded, not judged.

    `new` is the value of a new part, `source` says where the figures stand,
    `from_marking` names the reading whose spoken value replaces `high` (or `low` where only `low` is set).
    With `rows` the limit stands in a table instead: the spoken value of `from_marking` chooses the row.
    """

    unit: str
    low: Decimal | None = None
    high: Decimal | None = None
    new: Decimal | None = None
    source: str = ""
    from_marking: str | None = None
    rows: tuple[LimitRow, ...] = ()

    def row(self, key: Decimal) -> LimitRow | None:
        """The table's row of that size or class; 8.80 is 8.8."""
        return next((row for row in self.rows if row.key == key), None)


@dataclass(frozen=True)
class ReadingSpec:
    """One thing that is measured. `points` > 1: so many values round or along the part.

    `uncertainty`: the instrument's expanded uncertainty U (k = 2) in the limit's unit.
    `instrument_unit`: what the instrument shows where that is not the limit's unit: a number without a unit is in it.
    `spread`: largest difference allowed between points. `pair`: id of the reading on the other side,
    `pair_within`: largest difference allowed to it. `plausible`: values outside are asked about, never refused.
    """

    id: str
    name: str
    limit: Limit
    aliases: tuple[str, ...] = ()
    points: int = 1
    uncertainty: Decimal = Decimal(0)
    instrument: str = ""
    spread: Decimal | None = None
    pair: str | None = None
    pair_within: Decimal | None = None
    plausible: tuple[Decimal, Decimal] | None = None
    is_marking: bool = False
    instrument_unit: str = ""

    @property
    def unit(self) -> str:
        return self.limit.unit

    @property
    def read_in(self) -> str:
        """The unit of a number that is said without one."""
        return self.instrument_unit or self.limit.unit


class Finding(StrEnum):
    """What an inspection finds."""

    GOOD = "good"
    DOUBTFUL = "doubtful"
    BAD = "bad"


@dataclass(frozen=True)
class Look:
    """Something judged by eye or hand: good, doubtful or bad."""

    id: str
    name: str
    aliases: tuple[str, ...] = ()


@dataclass(frozen=True)
class Hold:
    """A hold point. `phrase` starts with the language's opening word ("confirm"), is lower case, and is said whole.

    `again`: what it confirms can change while nobody watches (a machine on stands), so a resumed session asks again.
    `until`: id of the step that ends what it confirms (the machine is lowered from its stands): once that is done, it
    is not asked again.
    """

    id: str
    phrase: str
    again: bool = True
    until: str | None = None


@dataclass(frozen=True)
class Item:
    """An entry of the register that the sheet knows by name."""

    id: str
    name: str
    kind: ItemKind
    aliases: tuple[str, ...] = ()


@dataclass(frozen=True)
class TorqueStage:
    """One stage of tightening: every nut of `order` once to `target` (in `unit`), or a further `turn` in degrees.

    A torque of several stages is several steps, a stage each, so that going back, resuming and the journal know them.
    `number` of `count` stages. `condition`: dry, oiled …; a torque means nothing without it. `instrument`: the wrench,
    `on_instrument`: the target in the wrench's own unit where that is another one.
    """

    torque: str
    number: int
    count: int
    unit: str
    condition: str
    target: Decimal | None = None
    turn: Decimal | None = None
    order: tuple[str, ...] = ()
    thread: str = ""
    instrument: str = ""
    on_instrument: tuple[Decimal, str] | None = None
    source: str = ""


@dataclass(frozen=True)
class Pronunciation:
    """How a word is said that the dictionary lacks. `phones`: of the CMU dictionary. `like`: known words that sound so,
    for a voice that takes no phones; "" where only phones were given."""

    word: str
    phones: tuple[str, ...]
    like: str = ""


@dataclass(frozen=True)
class Step:
    """One thing to do.

    `opens`: item ids that this step puts into the register (fitted or taken off) when it is left.
    `closes`: item ids that this step asks about, each answered by naming it, before it can be left.
    `requires`: item ids that must be closed before this step is read out.
    `needs`: step ids whose results this step rests on (they are asked again when those are done again).
    `only_if`: reading id; the step is passed over unless that reading was replaced.
    """

    id: str
    say: str
    detail: str = ""
    stage: str = ""
    cautions: tuple[Caution, ...] = ()
    hold: Hold | None = None
    readings: tuple[str, ...] = ()
    looks: tuple[str, ...] = ()
    opens: tuple[str, ...] = ()
    closes: tuple[str, ...] = ()
    requires: tuple[str, ...] = ()
    needs: tuple[str, ...] = ()
    only_if: str | None = None
    gate: bool = False
    follow_up: str = ""
    minutes: Decimal | None = None
    picture: str = ""
    licensed: str = ""
    torque: TorqueStage | None = None


@dataclass(frozen=True)
class JobSheet:
    """A whole job. Ids are unique in their kind; everything referred to exists (the proofreader has seen to it).

    `pronunciations`: by word, lower case.
    """

    id: str
    title: str
    version: str
    machine: str
    machine_id: str
    steps: tuple[Step, ...]
    language: str = "en"
    source: str = ""
    note: str = ""
    readings: Mapping[str, ReadingSpec] = field(default_factory=dict)
    looks: Mapping[str, Look] = field(default_factory=dict)
    items: Mapping[str, Item] = field(default_factory=dict)
    tools: tuple[str, ...] = ()
    parts: tuple[str, ...] = ()
    supplies: tuple[str, ...] = ()
    pronunciations: Mapping[str, Pronunciation] = field(default_factory=dict)
    machine_marks: str = ""

    def for_voice(self, text: str) -> str:
        """`text` with each word that the sheet has a pronunciation for written as known words that sound so."""
        if not self.pronunciations:
            return text

        def like(found: re.Match[str]) -> str:
            known = self.pronunciations.get(found.group().lower())
            return known.like if known and known.like else found.group()

        return re.sub(r"[^\W\d_]+(?:'[^\W\d_]+)*", like, text)

    def name_of(self, id_: str) -> str | None:
        """The spoken name of a reading, look or item."""
        for group in (self.readings, self.looks, self.items):
            if id_ in group:
                return str(group[id_].name)
        return None

    def step_index(self, step_id: str) -> int:
        """Index of the step; raises `KeyError` for an unknown id."""
        for index, step in enumerate(self.steps):
            if step.id == step_id:
                return index
        raise KeyError(step_id)

"""The YAML format of a job sheet. What is defaulted may be left out; what is named once is referred to by its id."""

from __future__ import annotations

from decimal import Decimal
from itertools import combinations
from typing import Annotated, Any, Literal

from pydantic import BaseModel, BeforeValidator, ConfigDict, Discriminator, Field, Tag, model_validator

from bench_voice.sheets.fields import (
    Id,
    Ids,
    Name,
    Names,
    NotNegative,
    Number,
    Nuts,
    Phrase,
    Picture,
    Points,
    Positive,
    Text,
    Texts,
    Unit,
    Word,
    YesNo,
    refuse,
    shape,
)


def _short_or_long(value: Any) -> str:
    return "long" if isinstance(value, dict | BaseModel) else "short"


# None by default and never written as such: the union below stays a plain choice of two, for pydantic and the schema.
_NO_HOLD: Any = None


def _none_is_empty(value: Any) -> Any:
    """`castle-nut:` with nothing behind it: everything by default."""
    return {} if value is None else value


class Part(BaseModel):
    """Base of all: unknown keys are refused, keys are written as people write them ("at least")."""

    model_config = ConfigDict(extra="forbid", populate_by_name=False, frozen=True)


class Machine(Part):
    name: Text = Field(description="The machine as it is spoken of.")
    id: Word = Field(description="Which one: plate, number, or the name it goes by in the workshop.")
    marks: Text = Field(default="", description="What is stamped on it: serial number, plate, year. For the record.")


class Caution(Part):
    """Spoken before the step: what is dangerous, what can happen, how to avoid it."""

    signal: Literal["danger", "warning", "caution", "notice"] = Field(description="Signal word, worst first.")
    hazard: Text
    consequence: Text
    avoid: Text
    about: Names = Field(
        default=[], description="Words that may not be read out in a step before this caution was given."
    )


# What the schema can say of how keys stand beside each other; the models and the builder say the same in words.
_ONE_KIND = [{"not": {"required": ["between", key]}} for key in ("at least", "at most")]
_ROW: dict[str, Any] = {
    "allOf": _ONE_KIND,
    "anyOf": [{"required": [key]} for key in ("at least", "at most", "between")],
}
_FIGURES = ("at least", "at most", "between")
_KINDS = ("table", "nominal", "percent of new")
_LIMIT: dict[str, Any] = {
    "allOf": [
        *_ONE_KIND,
        *({"not": {"required": [kind, key]}} for kind in _KINDS for key in _FIGURES),
        *({"not": {"required": [a, b]}} for a, b in combinations(_KINDS, 2)),
    ],
    "dependentRequired": {
        "table": ["marked on the part"],
        "nominal": ["within"],
        "within": ["nominal"],
        "percent of new": ["new"],
    },
}
_TORQUE: dict[str, Any] = {"anyOf": [{"required": ["at"]}, {"required": ["stages"]}]}


class Row(Part):
    """A row of a limit's table: what counts for one size or class."""

    model_config = ConfigDict(json_schema_extra=_ROW)

    key: Number = Field(alias="for", description="The size or class, as it is marked on the part.")
    at_least: Number | None = Field(default=None, alias="at least")
    at_most: Number | None = Field(default=None, alias="at most")
    between: list[Number] | None = Field(default=None, min_length=2, max_length=2)

    @model_validator(mode="after")
    def _one_kind(self) -> Row:
        _one_kind_of_limit(self)
        return self


class Limit(Part):
    """A limit, written once. Without `at least`, `at most` or `between` the reading is recorded, not judged."""

    model_config = ConfigDict(json_schema_extra=_LIMIT)

    unit: Unit
    at_least: Number | None = Field(default=None, alias="at least")
    at_most: Number | None = Field(default=None, alias="at most")
    between: list[Number] | None = Field(default=None, min_length=2, max_length=2)
    nominal: Number | None = Field(default=None, description="The wanted size; `within` is its tolerance.")
    within: Positive | None = Field(default=None, description="Plus or minus, beside `nominal`.")
    new: Number | None = Field(default=None, description="Value of a new part.")
    percent_left: Positive | None = Field(
        default=None, alias="percent of new", description="At least so many percent of `new` are left."
    )
    source: Text = Field(default="", description="Book, page and edition, or: marked on the part.")
    marked: Id | None = Field(
        default=None,
        alias="marked on the part",
        description="Reading whose spoken value replaces the limit's figure, or chooses the row of its table.",
    )
    table: list[Row] = Field(default=[], description="Limits by size or class; the marking chooses the row.")

    @model_validator(mode="after")
    def _one_kind(self) -> Limit:
        _one_kind_of_limit(self)
        has_figures = self.between is not None or self.at_least is not None or self.at_most is not None
        if (self.nominal is None) != (self.within is None):
            raise refuse("sheet-limit-cross", '"nominal" and "within" belong together.', "Write both, or neither.")
        if self.percent_left is not None and self.new is None:
            raise refuse("sheet-limit-cross", '"percent of new" lacks the new value.', "Add `new:`.")
        others = has_figures or bool(self.table)
        if self.table and has_figures:
            raise refuse("sheet-table", "A table stands beside a limit for all.", "Keep one of the two.")
        if (self.nominal is not None) + (self.percent_left is not None) + others > 1:
            raise refuse("sheet-limit-cross", "Two kinds of limit stand beside each other.", "Keep one of them.")
        return self

    def ends(self) -> tuple[Decimal | None, Decimal | None]:
        """Lower and upper figure, whichever way they were written."""
        if self.nominal is not None and self.within is not None:
            return self.nominal - self.within, self.nominal + self.within
        if self.percent_left is not None and self.new is not None:
            return self.new * self.percent_left / 100, None
        low, high = self.between or (self.at_least, self.at_most)
        return low, high


def _one_kind_of_limit(limit: Row | Limit) -> None:
    if limit.between is not None and (limit.at_least is not None or limit.at_most is not None):
        raise refuse("sheet-limit-cross", '"between" stands beside "at least" or "at most".', "Keep one of them.")


class Instrument(Part):
    name: Text
    unit: Unit | None = Field(default=None, description="What it shows, where that is not the limit's unit.")
    # Not Decimal(0): the schema would show it as a string.
    uncertainty: NotNegative = Field(default=0, description="Expanded uncertainty, k = 2, in its unit.")  # type: ignore[assignment]


class Said(Part):
    """A word's pronunciation in full."""

    phones: Text = Field(description="CMU phones, for the recogniser: S P R AA NG L.")
    say: Text = Field(description="How to write it so that the voice says it right.")


class Turn(Part):
    turn: Positive = Field(description="A further turn, in degrees.")


class Torque(Part):
    """How a joint is tightened, written once: how far, in which stages and order, with which thread."""

    model_config = ConfigDict(json_schema_extra=_TORQUE)

    unit: Unit
    condition: Text = Field(description="State of the thread: dry, oiled, with thread lock.")
    at: Positive | None = Field(default=None, description="What the wrench is set to; left out: the last stage.")
    within: Positive | None = Field(default=None, description="Plus or minus, in the same unit: for a reading's limit.")
    stages: list[
        Annotated[Annotated[Positive, Tag("short")] | Annotated[Turn, Tag("long")], Discriminator(_short_or_long)]
    ] = Field(default=[], description="Torques in rising order; `{turn: 90}` for a further turn in degrees.")
    order: Nuts = Field(default=[], description="The nuts in the order in which they are tightened, at every stage.")
    thread: Text = Field(default="", description="Size and class of the thread.")
    instrument: Id | None = Field(default=None, description="The wrench, under `instruments`.")
    source: Text = ""


class Reading(Part):
    name: Name | None = Field(default=None, description="As it is said; left out: the id with spaces.")
    also: Names = Field(default=[], alias="also called")
    limit: Annotated[Annotated[Id, Tag("short")] | Annotated[Limit, Tag("long")], Discriminator(_short_or_long)] = (
        Field(description="Name of a limit under `limits` or of a torque under `torques`, or the limit itself.")
    )
    points: Points = 1
    instrument: Id | None = Field(default=None, description="Name of an instrument under `instruments`.")
    spread: Positive | None = Field(default=None, description="Largest difference allowed between points.")
    pair: Id | None = Field(
        default=None, description="The reading on the other side; found by itself when spread over two."
    )
    pair_within: Positive | None = Field(default=None, alias="pair within")
    plausible: list[Number] | None = Field(default=None, min_length=2, max_length=2)
    marking: YesNo = Field(default=False, description="The value is read off the part, not measured.")


class Look(Part):
    name: Name | None = None
    also: Names = Field(default=[], alias="also called")


class Item(Part):
    name: Name | None = None
    kind: Literal["part", "renew", "temporary"] = "part"
    also: Names = Field(default=[], alias="also called")


class Hold(Part):
    phrase: Phrase
    again: YesNo = Field(default=True, description="Ask again when the session was interrupted.")
    until: Name | None = Field(default=None, description="Step that ends what it confirms: not asked again after it.")


class Step(Part):
    id: Id
    say: Text = Field(description="Read aloud.")
    detail: Text = Field(default="", description="Longer text for the page.")
    stage: Text = ""
    cautions: Ids = []
    hold: Annotated[Annotated[Phrase, Tag("short")] | Annotated[Hold, Tag("long")], Discriminator(_short_or_long)] = (
        Field(default=_NO_HOLD, description="Phrase that is waited for, or the phrase and `again`.")
    )
    torque: Id | None = Field(default=None, description="A torque under `torques`: read aloud stage by stage.")
    readings: Ids = []
    looks: Ids = []
    fit: Ids = Field(default=[], description="Temporary items put on here.")
    take_off: Ids = Field(default=[], alias="take off", description="Temporary items that come off here.")
    remove: Ids = Field(default=[], description="Parts taken off here; those of kind renew are thrown away.")
    put_back: Ids = Field(default=[], alias="put back", description="Parts that go back on here.")
    fit_new: Ids = Field(default=[], alias="fit new", description="Parts of kind renew: the new one goes on here.")
    requires: Ids = Field(default=[], description="Items that must be in place before this step is read out.")
    needs: Ids = Field(default=[], description="Steps whose results this one rests on.")
    only_if: Id | None = Field(default=None, alias="only if replaced")
    gate: YesNo = Field(default=False, alias="final gate")
    follow_up: Text = Field(default="", alias="follow up", description="When to look again, and at what.")
    minutes: Positive | None = None
    picture: Picture | None = None
    licensed: Text = Field(default="", description="Who may do this, where law or practice wants a licensed person.")


class Group(Part):
    """Steps that are gone through once for each value, one after the other."""

    for_each: Name = Field(alias="for each")
    steps: list[Step] = Field(min_length=1)


def is_group(value: Any) -> bool:
    """Whether an entry of `steps` is several steps that are gone through for each value."""
    return isinstance(value, Group) or (isinstance(value, dict) and ("for each" in value or "steps" in value))


def _step_or_group(value: Any) -> str:
    return "group" if is_group(value) else "step"


def _groups(value: Any) -> Any:
    if value is None:
        return {}
    if not isinstance(value, dict):
        raise refuse(
            "sheet-shape", f"A {shape(value)} stands where named things should.", "Write `name:` and its keys below."
        )
    return value


Empty = BeforeValidator(_none_is_empty)
Named = BeforeValidator(_groups)


class Sheet(Part):
    """A job sheet."""

    sheet: Id = Field(description="The sheet's own id.")
    title: Text
    version: Word
    language: Literal["en", "de"] = Field(default="en", description="Language of names, phrases and texts.")
    machine: Machine
    source: Text = Field(description="Where the figures come from.")
    note: Text = ""
    tools: Texts = []
    parts: Texts = []
    supplies: Texts = []
    for_each: Annotated[dict[Name, Names], Named] = Field(default={}, alias="for each")
    pronunciations: Annotated[
        dict[
            Name,
            Annotated[Annotated[Text, Tag("short")] | Annotated[Said, Tag("long")], Discriminator(_short_or_long)],
        ],
        Named,
    ] = Field(default={}, description="Words that the dictionary lacks: known words that sound so, or CMU phones.")
    cautions: Annotated[dict[Id, Caution], Named] = {}
    instruments: Annotated[dict[Id, Instrument], Named] = {}
    limits: Annotated[dict[Id, Limit], Named] = {}
    torques: Annotated[dict[Id, Torque], Named] = {}
    readings: Annotated[dict[Id, Reading], Named] = {}
    looks: Annotated[dict[Id, Annotated[Look, Empty]], Named] = {}
    items: Annotated[dict[Id, Annotated[Item, Empty]], Named] = {}
    steps: list[
        Annotated[Annotated[Step, Tag("step")] | Annotated[Group, Tag("group")], Discriminator(_step_or_group)]
    ] = Field(min_length=1)

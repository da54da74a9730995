"""Other names for things whose own are not heard: words that the dictionary knows and that sound unlike the others.

A proposal only: whoever writes the sheet knows what the thing is. Words of the trade, own list, common practice, no
source.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from bench_voice.core.sheet import Item, JobSheet, Look, ReadingSpec
from bench_voice.grammar.commands import taken
from bench_voice.phonetics import NEAR, apart, dictionary, words_of

_SAME = """
axle: shaft, spindle
backlash: free play
bearing: ball race, roller race
belt: drive belt
blade: knife, cutter
bolt: screw
cable: wire rope, pull wire
cap: cover, lid
castle nut: slotted nut, crown nut
clamp: bracket, grip
clearance: gap
clip: clamp, retainer
collar: stop ring
cotter: split pin
cover: lid, housing
current: amperes, load current
disc: rotor
drum: brake drum
float: free play, end play
fuse: safety link
gap: clearance, distance
gasket: flat seal, paper seal
grommet: rubber ring
guard: shield, cover
hose: rubber pipe, flexible pipe
hub: wheel center, wheel carrier
jet: nozzle
lid: cover
lining: friction surface, brake shoe
lug: terminal, cable end
nozzle: jet
pad: brake block
pin: dowel
pipe: tube, line
piston: plunger
play: movement
plug: stopper
pulley: belt wheel
race: bearing ring
retainer: holder
ring: collar, band
rod: bar, link
rotor: disc
run out: wobble
screw: bolt
seal: packing, rubber ring
shaft: spindle, axle
shim: thin plate
sleeve: bush, tube
spacer: distance ring, distance piece
spark plug:
split pin: cotter, safety pin
spring: coil
sprocket: chain wheel
strap: belt, webbing
tag: label, marker
tape: ribbon, sticky band
terminal: connector, cable end
tie: cable band
torque: tightness
tube: pipe
voltage: potential
washer: plate ring, flat ring
wear: loss
width: breadth
wire: conductor
"""
SAME: dict[str, tuple[str, ...]] = {
    word.strip(): tuple(other.strip() for other in others.split(",") if other.strip())
    for word, _, others in (line.partition(":") for line in _SAME.strip().splitlines())
}
_MOST = 3


@dataclass(frozen=True)
class OtherName:
    """`nearest`: the sheet's name that sounds most like it, `apart` phones away (`phonetics.phone_distance`)."""

    name: str
    nearest: str
    apart: float


def other_names(name: str, sheet: JobSheet, avoid: Iterable[str] = ()) -> tuple[OtherName, ...]:
    """At most three, the one furthest from all other names of the sheet first. English; empty without a dictionary.

    Each word stands in the dictionary, the whole is no command and no number, and it lies further from every other
    name (and from `avoid`: what was heard instead) than names that are taken for one another.
    """
    if not dictionary() or sheet.language != "en":
        return ()
    others = [other for other in (*names_of(sheet), *avoid) if other and other != name.lower()]
    found = []
    for candidate in dict.fromkeys(_candidates(name.lower())):
        if candidate in others or taken("en").why(candidate):
            continue
        if not all(word in dictionary() for word in words_of(candidate)):
            continue
        near = [(apart(candidate, other, sheet.pronunciations), other) for other in others]
        far, nearest = min(((far, other) for far, other in near if far is not None), default=(99.0, ""))
        if far > NEAR:
            found.append(OtherName(candidate, nearest, far))
    return tuple(sorted(found, key=lambda one: (-one.apart, one.name))[:_MOST])


def things(sheet: JobSheet) -> tuple[ReadingSpec | Look | Item, ...]:
    """Whatever is called by a name at the bench."""
    return (*sheet.readings.values(), *sheet.looks.values(), *sheet.items.values())


def names_of(sheet: JobSheet) -> tuple[str, ...]:
    """Every name and other name of them, lower case."""
    return tuple(dict.fromkeys(name.lower() for thing in things(sheet) for name in (thing.name, *thing.aliases)))


def _candidates(name: str) -> Iterator[str]:
    """The name with a part of it replaced; "left" and "right" stay, and so does what belongs together: of a castle nut
    only the whole, not the nut."""
    words = name.replace("-", " ").split()
    covered: set[int] = set()
    for length in range(len(words), 0, -1):
        for at in range(len(words) - length + 1):
            part = set(range(at, at + length))
            known = " ".join(words[at : at + length])
            if known not in SAME or part & covered:
                continue
            covered |= part
            for other in SAME[known]:
                yield " ".join((*words[:at], other, *words[at + length :]))

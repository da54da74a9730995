"""Words that people do and do not take for one another, from published lists.

`RHYMES`: the 96 pairs of the Diagnostic Rhyme Test (ANSI/ASA S3.2; Voiers 1977), from memory: words that differ in one
feature of the first consonant, made to measure which sounds are confused. As single names each pair must be found.
`ALPHABET`: code words of the radiotelephony spelling alphabet (ITU Radio Regulations, appendix 14), chosen by
intelligibility trials so that none is taken for another. No pair of them may be found.
"""

from __future__ import annotations

_RHYMES = """
veal feel bean peen gin chin dint tint zoo sue dune tune vole foal goat coat zed said dense tense vast fast gaff calf
vault fault daunt taunt jock chock bond pond
meat beat need deed mitt bit nip dip moot boot news dues moan bone note dote mend bend neck deck mad bad nab dab
moss boss gnaw daw mom bomb knock dock
vee bee sheet cheat vill bill thick tick foo pooh shoes choose those doze though dough then den fence pence than dan
shad chad thong tong shaw chaw von bon vox box
zee thee cheep keep jilt gilt sing thing juice goose chew coo joe go sole thole jest guest chair care jab gab
sank thank jaws gauze saw thaw jot got chop cop
weed reed peak teak bid did fin thin moon noon pool tool bowl dole fore thor met net pent tent bank dank fad thad
fought thought bong dong wad rod pot tot
yield wield key tea hit fit gill dill coop poop you rue ghost boast show so keg peg yen wren gat bat shag sag
yawl wall caught taught hop fop got dot
"""
_WORDS = _RHYMES.split()
RHYMES: list[tuple[str, str]] = list(zip(_WORDS[::2], _WORDS[1::2], strict=True))

_ALPHABET = """
alpha bravo charlie delta echo foxtrot golf hotel india juliet kilo lima mike november oscar papa quebec romeo sierra
tango uniform victor whiskey x-ray yankee zulu
"""
ALPHABET: list[str] = _ALPHABET.split()

# Names of the workshop that are said side by side and kept apart; common practice, no source.
_WORKSHOP = """
left right upper lower inner outer front rear drum hub washer bearing spring shoe piston valve belt chain cylinder
gasket filter voltage pressure torque clearance thickness temperature
"""
WORKSHOP: list[str] = _WORKSHOP.split()

"""How words sound: one place for everything that is known about it. English; other languages have no dictionary here.

Theory of operation
-------------------
A word's sound is a row of phones, the 39 of the CMU pronouncing dictionary without stress (`phones`). Where they come
from, first found, first taken:

1. the person's own file, then the sheet's `pronunciations` (`pronunciation`);
2. the dictionary that pocketsphinx ships, read as data (`cmudict`);
3. grapheme-to-phoneme (`graphemes`): the American spelling of the word, if the dictionary has that ("tyre"); a prefix
   or an ending and a known stem ("retorqued"); two known words put together ("halfshaft"); else letter by letter, by
   the table `letters.txt`, which was made from the dictionary's own words. On words that it was not made from, about
   one phone in ten is wrong (tests/phonetics/test_graphemes.py has the figure): a proposal, shown to whoever writes a
   sheet, and used by the ears until somebody says better.

Two texts are compared in three ways, for three questions:

- *Could one name be taken for the other?* Edit distance over phones, where two phones of one class (P and T, M and N)
  cost a half (`phone_distance`, `apart`, `keys`). For the proofreader of sheets, and other names.
- *Is this spelling that word?* Edit distance over a skeleton of the letters, for texts with words that no dictionary
  has: what free recognisers write (`letter_distance`, `sound_key`). For the agreement of the ears.
- *Are these the very same sounds?* Every way to say each text, run together as people speak (`alternatives`). For hold
  phrases, where likeness is not enough.

Spelling is in one place too (`spelling`). Negations and the words that turn a phrase round are words, not sounds: each
language's `words.yaml` lists them.

To mend how a word is said: in the sheet or the own file. To mend what the table makes of letters: teach it anew
(`python -m tests.phonetics.teach`); its figures tell whether it got better.
"""

from bench_voice.phonetics.alternatives import every_way, sound_the_same
from bench_voice.phonetics.cmudict import (
    Dictionary,
    Lookup,
    Ways,
    dictionary,
    dictionary_file,
    model_folder,
    no_ways,
    words_of,
)
from bench_voice.phonetics.edits import edits, phone_distance
from bench_voice.phonetics.graphemes import proposal, propose
from bench_voice.phonetics.likeness import NEAR, apart, keys, letter_distance, sound_key
from bench_voice.phonetics.phones import CLASS_OF, PHONES, VOWELS, Phones, are_phones
from bench_voice.phonetics.pronunciation import (
    Entries,
    Entry,
    Said,
    is_known,
    merged,
    parse_own,
    phones_of,
    sounds,
    spoken,
    ways,
)
from bench_voice.phonetics.spelling import american_unit

__all__ = [
    "CLASS_OF",
    "NEAR",
    "PHONES",
    "VOWELS",
    "Dictionary",
    "Entries",
    "Entry",
    "Lookup",
    "Phones",
    "Said",
    "Ways",
    "american_unit",
    "apart",
    "are_phones",
    "dictionary",
    "dictionary_file",
    "edits",
    "every_way",
    "is_known",
    "keys",
    "letter_distance",
    "merged",
    "model_folder",
    "no_ways",
    "parse_own",
    "phone_distance",
    "phones_of",
    "proposal",
    "propose",
    "sound_key",
    "sound_the_same",
    "sounds",
    "spoken",
    "ways",
    "words_of",
]

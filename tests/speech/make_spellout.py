"""Makes tests/speech/spellout.txt.xz: numbers spelled by CLDR's rules through ICU. Not run by the tests.

    python -m venv icu && icu/bin/pip install PyICU-wheels
    icu/bin/python tests/speech/make_spellout.py

Lines: language, rule set, number, words; separated by tabs. Soft hyphens are kept as ICU writes them.
"""

from __future__ import annotations

import lzma
from decimal import Decimal
from pathlib import Path

import icu

OUT = Path(__file__).with_name("spellout.txt.xz")


def lines() -> list[str]:
    out = [f"# ICU {icu.ICU_VERSION}, made by make_spellout.py"]
    for code, rule_sets in (
        ("en", ("%spellout-cardinal", "%spellout-cardinal-verbose")),
        ("de", ("%spellout-cardinal-neuter",)),
    ):
        speller = icu.RuleBasedNumberFormat(icu.URBNFRuleSetTag.SPELLOUT, icu.Locale(code))
        for rule_set in rule_sets:
            speller.setDefaultRuleSet(rule_set)
            out += [f"{code}\t{rule_set}\t{number}\t{speller.format(number)}" for number in range(10_000)]
        for hundredths in range(20_001):
            # A double has no trailing zeros, so 4.60 is spelled as "four point six" by ICU.
            number = Decimal(hundredths) / 100
            out.append(f"{code}\tdecimal\t{number}\t{speller.format(float(number))}")
        speller.setDefaultRuleSet("%spellout-ordinal")
        out += [f"{code}\tordinal\t{number}\t{speller.format(number)}" for number in (2, 4, 8, 16, 32, 64)]
    return out


if __name__ == "__main__":
    OUT.write_bytes(lzma.compress("\n".join(lines()).encode(), preset=9))

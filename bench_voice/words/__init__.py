"""Words, numbers and units: what the arithmetic (`reckon`) and the understanding (`speech`) rest on. Pure.

From the bottom up: `text` splits what was heard into words; `numbers` reads spoken numbers; `units` is the closed list
of units and the only user of pint; `quantities` joins the two; `values` holds a quantity against a reading's limit;
`phrases` reads a language's data from `grammars/`; `say` words numbers and units the way they are heard; `wording`
turns a core reply into sentences.
"""

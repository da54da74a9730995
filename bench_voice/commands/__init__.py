"""One module a subcommand of `bench-voice`: reads its arguments, wires the parts, prints.

No rule of the product lives here.
"""

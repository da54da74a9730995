"""A rehearsal of a sheet: `prompts` lists what is said, `take` keeps and hears each phrase, `live` records it at the
microphone, `report` tells which words are mistaken and what to try instead.
"""

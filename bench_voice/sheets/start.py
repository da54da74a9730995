"""The commented beginning of a sheet; it passes `check` as it stands."""

BEGINNING = """\
# A job sheet: one job on one machine. Change everything below; `bench-voice check` reads it like a colleague.
# Lines that begin with # are for people. Indent with spaces.
sheet: my-first-job          # the sheet's own id: small letters, digits, hyphens
title: Change the drive belt
version: 1                   # raise it when figures or steps change
machine:
  name: Make-believe compressor
  id: compressor one         # which one: the name it goes by in the workshop
source: Invented. Write book, page and edition here.
note: Limits come from the machine's own manual. Local rules and licensed practice come first.

tools: [spanner set, belt gauge]
parts: [drive belt]
supplies: []

# Written once, named in the steps that it is for. It is spoken before the step.
cautions:
  starts-by-itself:
    signal: danger           # danger, warning, caution or notice
    hazard: The machine can start by itself.
    consequence: It can take a hand with it.
    avoid: Pull the plug and keep it in sight.

# Limits: `at least: 2.0`, `at most: 9`, or `between: [5, 9]`. Without one of them a reading is only written down.
limits:
  belt: {between: [5, 9], unit: mm, source: "manual, page 12"}

# Torques: the state of the thread belongs to it. `stages: [10, 20, 30]` is read aloud stage by stage.
torques:
  motor-bolts: {at: 30, within: 3, unit: N*m, order: [1, 3, 2, 4], condition: dry, source: "manual, page 13"}

# What is measured. The id with spaces is the name that is spoken; `name:` and `also called:` give others.
readings:
  belt-travel: {limit: belt, plausible: [0, 40]}

# What is judged by eye or hand: good, doubtful or bad.
looks:
  pulley:

# What comes off and goes back on (part), is thrown away and renewed (renew), or goes on only for the job (temporary).
items:
  belt-guard:
  drive-belt: {kind: renew}
  warning-tag: {kind: temporary}

steps:
  - id: isolate
    say: Pull the plug, hang the warning tag on it, and press start to see that nothing moves.
    cautions: [starts-by-itself]
    hold: confirm plug is pulled and tagged   # said whole before the job goes on
    fit: [warning-tag]
  - id: strip
    say: Take the belt guard off, then the old belt.
    remove: [belt-guard, drive-belt]
  - id: inspect
    say: Look at the pulley.
    looks: [pulley]
  - id: rebuild
    say: Fit the new drive belt. Press it in the middle and measure how far it travels.
    readings: [belt-travel]
    fit new: [drive-belt]
  - id: tighten
    say: Tighten the four bolts of the motor.
    torque: motor-bolts
  - id: close
    say: Put the belt guard on.
    requires: [drive-belt]                    # must be in place before this step is read out
    put back: [belt-guard]
  - id: before-use
    say: Take the tag off and run the machine.
    take off: [warning-tag]
    final gate: yes                           # names everything that is still open
    follow up: Measure the belt again after ten hours.
"""

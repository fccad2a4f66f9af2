"""The keeper's process: its pipes, its priority, its signals, and the loop.

Started as `python -P -m hardware.keeping CONFIG_JSON`, where CONFIG_JSON is {"lines": the specification for
`hardware.opening.open_lines`, "timing": fields of `Timing` that differ from the default, "runtime": the
directory of the slate, "spin": whether exact deadlines are spun}. It imports everything, then waits for the
line "wake" on its standard input: a keeper that has not been woken is a spare one and has touched no line.
"""

from __future__ import annotations

"""The print as a paper would give it, from a scan of its negative and two known tones: before any paper is used; pure.

A scan becomes a map of densities at the easel (`easel_map`), lights fall through it (`lights`, `prints`), and the tray
is the practice darkroom's. `orders` is what a process of its own is asked for.
"""

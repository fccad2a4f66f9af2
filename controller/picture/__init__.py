"""What light would have made of a sheet of paper: scene, optics, hands, development; pure.

Fed with the lamp line's edges, a sheet's record and the practice darkroom's log. The modules that only name things
(`filters`, `lamp`, `surroundings`, `papers`, `negatives`, `optics`, `scene`, `hands`, `doses`) load no numpy.
"""

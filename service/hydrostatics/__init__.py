"""How the boat floats: hull form, weights, equilibrium, stability.

Pure numpy. Axes: origin on the keel line at the transom, ``x`` forward, ``y`` to port, ``z`` up.
SI units, radians; heel is positive with the starboard side down, trim with the bow up.
"""

"""Where the control goes: sun on the wall, heat and air, reach, radio, and a verdict with its reasons.

The modules here load numpy, numba and pvlib; this file loads none of them, so that nothing is slower for it. ``verdict``
puts everything together; ``sun_year`` and ``sun_hours`` hold the exact geometry, ``air``, ``reach`` and ``radio`` the rules
with their sources.
"""

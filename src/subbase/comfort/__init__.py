"""Comfort: a house as heat and time, its equipment and its control in the loop, and what a schedule does to both.

Weather comes from a file (``weather``) or is made up from two means (``made_weather``), sun is put on facing surfaces
(``sun_on_windows``), a building of layers becomes a small exact model (``building``, ``network``), an installer's five
minutes (``answers``) become such a building with an honest spread (``house``), equipment has capacity and draw against
outdoor temperature (``equipment``, ``served``), and ``loop`` runs a whole year of one-minute steps with the control in it.

On top of that: ``outcomes`` puts schedules side by side, ``optimise`` finds the cheapest week, ``setback`` the depth at
which recovery eats the saving, ``learn`` the house behind a log (``log_reading``, ``log_filter``), and ``study`` all of it
for one control. Import the modules themselves: this package loads nothing slow on its own.
"""

"""Comfort: a house as heat and time, its equipment and its control in the loop, and what a schedule does to both.

Weather comes from a file (``weather``), sun is put on facing surfaces (``sun_on_windows``), a building of layers becomes
a small exact model (``building``, ``network``), an installer's five minutes become such a building with an honest spread
(``house``), equipment has capacity and draw against outdoor temperature (``equipment``), and ``loop`` runs a whole year
of one-minute steps with the control in it. Import the modules themselves: this package loads nothing slow on its own.
"""

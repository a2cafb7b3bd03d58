"""Doing the work: the steps at the wall and at the equipment, and what they show."""

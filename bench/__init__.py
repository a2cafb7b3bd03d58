"""Measures speed: ``python -m bench`` runs everything, prints it and writes it into docs/performance.md.

A bench is a module with ``run(docs)`` that returns a ``Result``; it is listed in ``__main__``.
"""

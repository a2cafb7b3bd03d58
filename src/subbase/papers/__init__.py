"""What is printed: drawings, tables, labels and the packet of a job.

Everything here is a pure function of a plan and a date. Drawings are SVG made from the circuit and the survey; the
packet is one PDF. ``write_papers`` writes them all; the heavy PDF engine is loaded only when a packet is made.
"""

from subbase.papers.ladder import ladder_svg
from subbase.papers.packet import packet_pdf
from subbase.papers.wiring_map import wiring_map_svg
from subbase.papers.write import PAPER_NAMES, write_papers

__all__ = ["PAPER_NAMES", "ladder_svg", "packet_pdf", "wiring_map_svg", "write_papers"]

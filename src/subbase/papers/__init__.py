"""What is told of a plan: drawings, tables, labels, the packet of a job; and the shapes of data out.

All are pure functions of a plan and a date. Drawings are SVG made from the circuit and the survey; the packet is one PDF.
``write.write_papers`` writes them all; the heavy PDF engine is loaded only when a packet is made. Nothing is imported
here, so that whoever wants one shape loads no drawings.
"""

"""Doing the work: wrong landings and what they would do, the fewest checks that tell them, and knowing the conductors.

slips, outcomes
    every single wrong landing of a plan, built as a circuit and solved
checks, cover
    the least work with a meter that tells the good house from every slip, chosen exactly
trace, trace_plans, trace_facts, grouping
    which conductor is which in an unmarked cable, with the fewest walks between its ends
"""

"""Finding the fault: what can be wrong in *this* house, how likely each is after what was read, and what to read next.

Hypotheses come from the house's own circuit by construction, predictions from the circuit engine, and nothing else holds
a rule of which symptom means which fault. The rooms, in the order in which a diagnosis uses them:

hypothesis, components, slips, hypotheses
    ``hypotheses_of(house) -> tuple[Hypothesis, ...]``; a ``Hypothesis`` has ``Form`` s (alternatives: how bad, fuse blown
    or not), each of which ``netlist_of(house, form)`` turns into a circuit. Prior odds are data: ``odds.toml``
probes, evidence_file
    ``Probe``: volts, ohms or amperes in a call, or something seen; ``Reading(probe, value)``, value None for 'don't know';
    ``Evidence(readings, history, repaired)``, where ``and_repaired(causes)`` says 'put right, and still something is wrong';
    ``load_evidence(path, house)`` reads YAML
rows, islands, dead, predictions
    ``predict(house, hypotheses) -> Predictions``: every single and double fault settled, call by call, once
likelihood, belief, weigh
    ``weigh(predictions, evidence) -> Belief``: ``belief.ranking`` (causes, inseparable ones as one), ``belief.none_of_these``,
    ``belief.doubted``
answers, inseparable
    what the same work at the same part puts right, or no test on offer can tell apart, is one entry of the ranking
costs, information, advice
    ``offers(predictions) -> tuple[Offer, ...]``; ``next_test(belief, predictions, situation=...) -> Advice``, which says to
    probe, to repair, or to hand over
minimal, beyond
    minimal conflicts, hitting sets and diagnoses (Reiter 1987; de Kleer and Williams 1987), and with them three faults at once
repair
    ``repair_for(hypothesis, house) -> Repair``
session
    ``start(survey, catalog) -> Predictions`` in one call

This floor loads numpy and numba; import its modules from inside the function that needs them.
"""

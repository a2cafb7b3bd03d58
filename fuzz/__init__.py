"""Coverage-guided fuzzing of every reader: what it may do with any bytes, who runs it, and inputs worth keeping.

``targets`` says what each reader must hold to; ``python -m fuzz`` looks for bytes that break it (needs atheris, see
``make fuzz``); ``corpus/`` keeps few and small inputs that reach far, and all that ever broke something. The tests replay
these without atheris.
"""

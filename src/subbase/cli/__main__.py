"""``python -m subbase.cli``."""

from subbase.cli.main import main

main()

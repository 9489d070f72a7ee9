"""``python -m keepfast`` is the command line."""

from keepfast.cli import main

main()

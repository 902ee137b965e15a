"""``python -m studio`` is the command ``stillfield``."""

from studio.cli import main

main()

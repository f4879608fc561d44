"""``python -m lapkit``."""

from lapkit.cli import main

main()

"""Starts the command line; ``tubing``, once installed, does the same."""

import sys

from tubing.commands import main

if __name__ == "__main__":
    sys.exit(main())

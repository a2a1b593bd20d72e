"""``python -m jam``: the same as the command ``jam``."""

import sys

from jam.cli.main import main

if __name__ == "__main__":
    sys.exit(main())

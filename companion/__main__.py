"""``python -m companion``: the same as the console command ``wordhearth``."""

import sys

from companion.cli import main

if __name__ == "__main__":
    sys.exit(main())

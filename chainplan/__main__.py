"""Run the command line with ``python -m chainplan``."""

import sys

from chainplan.cli import main

sys.exit(main())

"""`python -m notelog.cli` does what `notelog` does."""

import sys

from notelog.cli import main

sys.exit(main())

"""`python -m logger`: the command line."""

from __future__ import annotations

import sys

from logger.cli.main import main

sys.exit(main())

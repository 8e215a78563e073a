"""`python -m weakstep` is the command `weakstep`."""

from __future__ import annotations

import sys

from weakstep.cli import main

sys.exit(main())

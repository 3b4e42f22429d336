"""`python -m lenticel`."""

from __future__ import annotations

import sys

from lenticel.cli import main

sys.exit(main())

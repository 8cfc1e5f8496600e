"""Lets ``python -m monitor`` do what ``laidup`` does."""

import sys

from monitor.cli import main

sys.exit(main())

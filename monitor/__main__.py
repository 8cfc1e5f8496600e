"""Lets ``python -m monitor`` do what ``laidup`` does."""

import os
import sys

# `-m` puts the working directory before all that is installed, so that any file there which bears a
# module's name would run inside laidup. Left in only where laidup itself is run from a checkout.
_HERE = os.path.dirname(os.path.dirname(os.path.abspath(__file__)))
if not sys.flags.safe_path and not os.path.samefile(sys.path[0] or os.curdir, _HERE):
    del sys.path[0]

from monitor.cli import main  # noqa: E402

sys.exit(main())

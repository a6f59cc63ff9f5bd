"""``python -m console``: the same as the ``leadmark`` command."""

import sys

from console.cli import main

sys.exit(main())

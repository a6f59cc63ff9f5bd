"""What reading JSON that came from outside can end in."""

from __future__ import annotations

from typing import Final

import msgspec

BAD_JSON: Final = (msgspec.MsgspecError, UnicodeDecodeError)
"""To be caught together: msgspec gives the second for text that is not UTF-8."""

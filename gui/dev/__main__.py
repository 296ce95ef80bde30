"""`python -m gui.dev PART` opens one part of the window alone, on the demo visit; without a name it lists them."""

from __future__ import annotations

import sys

from gui.dev.parts import PARTS, show_part

if len(sys.argv) == 2 and sys.argv[1] in PARTS:
    show_part(sys.argv[1])
else:
    print("\n".join(PARTS))

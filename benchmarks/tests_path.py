"""Importing this puts ``tests/`` on the path: the worlds of the trials (``tests/worlds``) are no part of the package."""

import sys
from pathlib import Path

sys.path.append(str(Path(__file__).resolve().parents[1] / "tests"))

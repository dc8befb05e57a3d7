"""The benchmark's own files import one another by plain name, as they do when run as a program."""

import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parent))

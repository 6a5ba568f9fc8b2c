"""Odd presses: inks, marks, cameras and prints by chance, in combinations that nobody planned.

    python tests/bench/odd_presses.py [--tiny] [--presses N] [--first N]

Other benches ask how well; this one asks whether measuring ever falls, and whether a mark that is
called ok is ever somewhere else. Exit code 1 where it does (never with --tiny).
"""

import sys
from pathlib import Path

from regscan.threads import one_each

one_each()  # before numpy comes in: every process measures on one core
sys.path.insert(0, str(Path(__file__).parent.parent))

if __name__ == "__main__":
    from bench.odd.run import main

    sys.exit(main(sys.argv[1:]))

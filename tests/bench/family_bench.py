"""The family bench: regscan, a plain script and an ideal fit on the same hard frames.

    python tests/bench/family_bench.py [--tiny] [--only WORD...] [--out DIR] [--keep DIR]

Prints one line per family of frames with what is wanted of it. `--keep` names a folder for
the parts that regscan's measuring has no say in, so that the next run is much quicker.
"""

import sys
from pathlib import Path

from regscan.threads import one_each

one_each()  # before numpy comes in: its threads would be counted as the measurer's
sys.path.insert(0, str(Path(__file__).parent.parent))

if __name__ == "__main__":
    from bench.families.run import main

    sys.exit(main(sys.argv[1:]))

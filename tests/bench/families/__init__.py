"""The family bench: drawn frames of every hard kind, measured three ways side by side.

Each family is one kind of frame (see `catalogue`). On every frame run: regscan itself, a
plain script of general-library calls (`plain`), and an ideal fit that is told everything
but the places (`ideal`). `python tests/bench/family_bench.py` prints the table.
"""

"""The tests of Trainwright. `python -m tests` runs every check there is; `pytest` runs the tests alone."""

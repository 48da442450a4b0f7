"""Trainwright: a workshop for the optical train of a deep-sky imaging rig. The layout reads as the data goes.

    seed_data/ -> store ->  PARTS --assemble--> TRAIN --check--> FINDINGS --save--> ENTRY --share--> SHARE

Nouns are boxes (`domain`), verbs are arrows (`flow`), doors are `web`, `api` and `cli`; the numerics
(`optics`, `mechanics`, `sky`) are the ground they stand on. `app` wires them. DEVELOPERS.md shows the whole
house.
"""

import os

STOPPED = "Trainwright has stopped."
"""What the terminal says at the end. It stands here since it is wanted before anything else is loaded."""

INTERRUPTED = 130
"""What a shell shows as the status of a program that Ctrl-C ended: 128 and the signal's number."""

# The linear algebra under numpy would start a thread for each core for every small product. They wait for
# each other where anything else works beside them, and an answer takes fifty times as long; one is as quick.
# It is told by the environment, before numpy is loaded by whatever comes after this package.
for _threads in ("OPENBLAS_NUM_THREADS", "OMP_NUM_THREADS", "MKL_NUM_THREADS", "VECLIB_MAXIMUM_THREADS"):
    os.environ.setdefault(_threads, "1")

"""The checks: what is true of a rig, one module a check.

`registry.py` has them in the order in which one would act on them, `server/domain/workings` what they are
handed. A check is a pure function from a Case to verdicts; DEVELOPERS.md tells how to add one.
"""

"""Exact searches over parts: numbers in, numbers out; no web, no database, no words for people.

- ``problem``: the types of the Bridge's search: pieces, required items, a problem, stacks and an outcome.
- ``stacks``: the exact search for the best stacks between two connections; its algorithm is explained there.
- ``index``: a catalogue made ready once, used by many searches.
- ``tables``: cost bounds without lengths, and the backward tables over exact lengths.
- ``walks``: the best-first enumeration that the tables guide, and what makes a chain a real stack.
- ``placing``: the pieces of a chain put in an order in which its joints close.
- ``deepening``: the budgets that the searches deepen by work, and the loop of their passes.
- ``misses``: why no stack exists, and how near the nearest one comes.
- ``fronts``: the Pareto front of error, money, joints and mass.
- ``branches``: a main chain and the guider's side branch from one drawer; its algorithm is explained there.
- ``pairs``, ``segments``, ``joins``: its types, its segments with their tables, and how they are joined.
- ``kits``: one kit for several rigs; what it minimises and how is explained there.
- ``kit_prices``, ``kit_fixing``: its lower bound, and what need not enter its models.
- ``kit_models``, ``mixed``: its integer models, and the solver that they go to.
- ``scout``: what the Scout asks of its table of candidates: fronts, needs, steps, influence.
"""

"""What the Scout works out over its table of candidates: numbers in, numbers out.

A row is a candidate, a column a measure or a need. Less is better everywhere: a caller negates what should be
large. nan is a figure that is not known.

- ``fronts_of_many``: the rows that no other beats, and which ones beat a row.
- ``needs``: which rows meet all needs, what relaxing one brings, the nearest misses, needs that contradict.
- ``steps``: rows that are practically equal, in steps in which a person counts.
- ``influence``: which figure that is known as a range only could change the answer.
"""

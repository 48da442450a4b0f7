"""Mechanics: numbers in, numbers out, with the standard library alone.

Signs and units: masses are kg and never negative; capacities are kg as their makers rate them;
shares are pure numbers from 0 to 1. A margin is positive where there is room left. An unknown mass
is None, is left out of the sum and is named as missing: a sum with something missing is a lower
bound, never a total.

Modules:

* `balance on a bar` is in `counterweights`, sums of moments in `statics`.
* `batteries`, `cables`: what a battery gives, what a lead loses.
* `lifting`: the revised NIOSH lifting equation.
* `payload`: what a mount carries against what it may carry.
* `seating`: whether a screwed joint closes, and how many turns hold it.
"""

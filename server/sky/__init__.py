"""The sky: numbers in, numbers out, with the standard library alone.

Signs and units: magnitudes are V unless said; densities are stars in a square degree; latitudes are
galactic, degrees of either sign; times are s, signals electrons. A value outside its range raises
ValueError with the value, the range and what to do.

Modules:

* `photons`: electrons of a star in an exposure.
* `guide_stars`: how many stars there are to guide on, and how faint a guide camera sees.
"""

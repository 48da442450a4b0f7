"""Check values for the revised lifting equation.

Source: Waters, Putz-Anderson, Garg, Applications Manual for the Revised NIOSH Lifting Equation, DHHS (NIOSH)
Publication 94-110 (revised 2021, public domain): table 5 (frequency), table 7 (coupling), and the limits of
equation 1. Typed from notes of the manual and from memory, cell by cell, and not from this program.
"""

from server.mechanics.lifting import Constants

#: Equation 1 in pounds and inches, as the manual's printed examples are; `Lifted` then holds inches.
US = Constants(51.0, 10.0, 30.0, 0.0075, 1.8, 25.0, 70.0, 10.0, 70.0, 30.0, "in")

#: Hours of lifting that fall into each column, at its very end, with the column's name here.
COLUMNS = ((1.0, "short"), (2.0, "moderate"), (8.0, "long"))

#: Lifts in a minute; for up to 1 hour, up to 2 and up to 8: hands below 75 cm, at 75 cm and above. 0: not to
#: be lifted.
FREQUENCIES = (
    (0.2, (1.00, 1.00), (0.95, 0.95), (0.85, 0.85)),
    (0.5, (0.97, 0.97), (0.92, 0.92), (0.81, 0.81)),
    (1.0, (0.94, 0.94), (0.88, 0.88), (0.75, 0.75)),
    (2.0, (0.91, 0.91), (0.84, 0.84), (0.65, 0.65)),
    (3.0, (0.88, 0.88), (0.79, 0.79), (0.55, 0.55)),
    (4.0, (0.84, 0.84), (0.72, 0.72), (0.45, 0.45)),
    (5.0, (0.80, 0.80), (0.60, 0.60), (0.35, 0.35)),
    (6.0, (0.75, 0.75), (0.50, 0.50), (0.27, 0.27)),
    (7.0, (0.70, 0.70), (0.42, 0.42), (0.22, 0.22)),
    (8.0, (0.60, 0.60), (0.35, 0.35), (0.18, 0.18)),
    (9.0, (0.52, 0.52), (0.30, 0.30), (0.00, 0.15)),
    (10.0, (0.45, 0.45), (0.26, 0.26), (0.00, 0.13)),
    (11.0, (0.41, 0.41), (0.00, 0.23), (0.00, 0.00)),
    (12.0, (0.37, 0.37), (0.00, 0.21), (0.00, 0.00)),
    (13.0, (0.00, 0.34), (0.00, 0.00), (0.00, 0.00)),
    (14.0, (0.00, 0.31), (0.00, 0.00), (0.00, 0.00)),
    (15.0, (0.00, 0.28), (0.00, 0.00), (0.00, 0.00)),
)
MORE_THAN = 15.001
"""Lifts in a minute for which the table's last line gives 0 in every column."""

#: Coupling; multiplier with the hands below 75 cm, at 75 cm and above.
COUPLINGS = (("good", 1.00, 1.00), ("fair", 0.95, 1.00), ("poor", 0.90, 0.90))

#: What of a lift, and the most of it that the equation is for: cm, degrees.
EDGES = (
    ("reach_cm", 63.0),
    ("height_cm", 175.0),
    ("start_cm", 175.0),
    ("way_cm", 175.0),
    ("twist_deg", 135.0),
)

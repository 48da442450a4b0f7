"""Whether a focuser can bring the sensor to the focus."""

from dataclasses import dataclass

from server.optics.ranges import LONGEST_MM, checked, checked_length_mm


@dataclass(frozen=True)
class Reach:
    """What the drawtube has to do, and the room that it has left; all mm.

    move_mm: from its stated position, positive outwards (away from the sky).
    margin_in_mm: further way inwards from the place of focus; negative is what is missing.
    margin_out_mm: further way outwards from there; negative is what is missing.
    """

    move_mm: float
    margin_in_mm: float
    margin_out_mm: float


def focuser_reach(
    back_focus_mm: float,
    travel_in_mm: float,
    travel_out_mm: float,
    train_length_mm: float,
    glass_shift_mm: float = 0.0,
) -> Reach:
    """Return how the drawtube must move to bring the sensor to the focus of a distant star, mm.

    back_focus_mm: focal plane behind the rear connection in air, with the drawtube at its stated position;
    -100 000 to 100 000 mm, negative when the focus lies inside the tube. travel_in_mm, travel_out_mm: way
    of the drawtube from that position towards and away from the sky, 0 to 100 000 mm. train_length_mm: rear
    connection to sensor, mechanical, 0 to 100 000 mm. glass_shift_mm: sum of the plates' shifts
    (`glass.plate_shift_mm`), 0 to 100 000 mm; they put the focus further out. Raises ValueError outside.

    A margin of exactly 0 is in focus, with nothing left for temperature. Not modelled: tubes that focus by
    moving a mirror (their focal length changes with it), near objects (their focus lies further out by f^2
    / distance).
    Source: arithmetic along the axis: move + train = back focus + shift.
    """
    back_focus = checked(
        "The back focus", back_focus_mm, -LONGEST_MM, LONGEST_MM, "mm", "Check the figure and its unit."
    )
    travel_in = checked_length_mm("The travel inwards", travel_in_mm)
    travel_out = checked_length_mm("The travel outwards", travel_out_mm)
    train = checked_length_mm("The train's length", train_length_mm)
    shift = checked_length_mm("The shift by glass", glass_shift_mm)
    move = back_focus + shift - train
    return Reach(move_mm=move, margin_in_mm=travel_in + move, margin_out_mm=travel_out - move)

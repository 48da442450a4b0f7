"""What is worked out of a rig once, for checks, load and stars alike; nothing is judged here.

case            a rig before its judge, with what is worked out of it, and small words that all checks share
worked, traced  focal length, ratio and spacing; the beam traced from the sky to the sensor
in_beam         glass and lengths in the converging beam; mirrors: a telescope of two mirrors
beam, lit       every opening the light passes, and the light that the sensor gets
prism           an off-axis guider's prism in the beam
drift           how far the focus moves as the night cools
loads           what rides on the saddle
"""

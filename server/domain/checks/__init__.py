"""The checks: what is true of a rig, one module a check.

joints     every joint mates, or what would join it
suits      each corrector meant for the tube's design and focal ratio
spacing    the sensor at the back focus that the corrector asks for
reach      without a corrector: the focuser brings the sensor to the focus
coverage   tube's and corrector's circle against the sensor
beam       the light cone through every opening, and which one limits
sampling   field, scale, stars against pixels
hanging    focuser, rotator and tilter against the mass behind them
payload    what the mount carries against its rating
stand      what the tripod or pier carries against its rating
balance    where the loaded tube balances; which weights balance it on the bar
lifting    each load against what its lifter wants to lift
sun        the Sun as target: a filter over the whole aperture, or a stop

`registry.py` has them in the order shown, `server/domain/workings` what they are handed. A check is a pure
function from a Case to findings. To add one: a function here, one line in the registry, a reference test.
"""

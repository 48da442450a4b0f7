"""The sky: numbers in, numbers out.

Signs and units: magnitudes are V unless said; angles are degrees, azimuths run from north through east,
places are J2000 unless said; times are s, or days of UTC since 2000-01-01T12:00Z; signals are electrons. A
value outside its range raises ValueError with the value, the range and what to do.

Modules:

* `photons`: electrons of a star in an exposure. `exposure`: signal to noise, hours, sub-exposures.
* `guide_stars`: how many stars there are to guide on, and how faint a guide camera sees.
* `ephemeris`: where Sun, Moon and stars stand. `midnights`, `darkness`, `horizon_line`: nights, and hours
  above a site's line.
* `deep_sky`, `field_stars`: the catalogues, of the packages that bring them (`installed`).
* `framing`, `mosaic`, `directions`: a target on a sensor, and a sensor's panels on the sky.
* `sky_brightness`, `moonlight`: how bright the sky is. `profiles`, `sketch`: a frame as it might look.
"""

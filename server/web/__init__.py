"""The HTML door. One folder a station (welcome, shelf, bench, bridge, load, stars, logbook, share): `routes`
is its door, `page` its pages as frozen dataclasses, beside them what only it draws. drawing/ holds what
several of them draw, picture.py puts a rig's figures into it, and run.py is the train on every page.

rendering.py shows a page or one block of it, deps.py hands a route its workbench, urls.py builds every
address, errors.py turns what went wrong into a page, safety.py stands before all of them.

House rules for pages: plain forms and links first (303 after a change); htmx swaps named blocks of the page's
own template; `data-hx-*` only, with inheritance written out (`data-hx-target:inherited`); nothing that needs
eval (no hx-on, no `js:` values, no trigger filters); no inline script, style or on* attribute.
"""

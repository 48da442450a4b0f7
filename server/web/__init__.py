"""The HTML door. One module a place (welcome, shelf, bench, logbook, share): its pages as frozen dataclasses
and its routes.

rendering.py shows a page or one block of it, deps.py hands a route its workbench, urls.py builds every
address, errors.py turns what went wrong into a page, safety.py stands before all of them.

House rules for pages: plain forms and links first (303 after a change); htmx swaps named blocks of the page's
own template; `data-hx-*` only, with inheritance written out (`data-hx-target:inherited`); nothing that needs
eval (no hx-on, no `js:` values, no trigger filters); no inline script, style or on* attribute.
"""

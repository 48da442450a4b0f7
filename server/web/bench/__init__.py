"""The Bench: one rig's train put together, checked after each change.

One change goes in at `routes`, through the workbench to the rig's checks, and out by `page`, whose pictures
are drawn in `server/web/drawing`.
"""

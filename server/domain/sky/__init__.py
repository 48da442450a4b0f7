"""The sky: where one stands, what one points at, and what of a rig counts beneath it.

site      an observer's place under the sky
target    what is to be photographed, of the catalogue or one's own
imager    what of a rig counts under the sky
"""

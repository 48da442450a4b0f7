"""The stars that a rig draws: what its parts say of them, the pictures over the sensor, their numbers in
sentences.
"""

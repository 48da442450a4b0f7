"""The Scout: which rigs are worth considering for what one wants.

needs        what one wants, spends and carries
usual        what is usual of a tube, where nobody has said
candidates   tubes, correctors, cameras and mounts, and all their combinations
measures     what each combination gives, worked out on all at once
"""

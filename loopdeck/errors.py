"""The one error that is the user's to correct.

Everything that a player can cause (a wrong file, a wrong word on the command line, a shelf in the
way) is raised as ``UserError``; whatever else is raised is a mistake of ours and goes through to
whoever runs the program.
"""


class UserError(ValueError):
    """What was wrong, where, and what would be right; ``str(error)`` is one full sentence for the
    player.
    """

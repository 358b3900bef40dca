"""The commands of the command line, one module each, with ``HELP``, ``add_arguments`` and ``run``.

Begin with ``main``: it has the table of commands and imports only the one that is asked for.
``take_arguments`` has the options that commands share.
"""

"""The command line: thin commands over the library.

Start-up time is part of how a command feels, and numpy, scipy, rich and Typst take most of it.
The commands therefore import the packages they use when they run, not when the program starts:
``levelbook --help`` and every usage error answer without them, ``check`` without the packages
that fit and set. Nothing is hidden by it: all arrows still point from ``cli`` to the packages
before it.
"""

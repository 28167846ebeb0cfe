"""The one exception for bad input: a face prints its message to stderr and exits with code 2."""


class InputError(ValueError):
    """What was given cannot be used; the message says what is wrong, where, and what to do, in one sentence."""

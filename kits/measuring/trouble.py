"""What every module here raises when it cannot answer."""


class CannotCompute(ValueError):
    """The numbers given allow no honest result. The message says why and how to mend it."""

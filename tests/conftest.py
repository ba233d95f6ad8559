"""How hypothesis runs here: the same examples every time, and no deadline, since a first call compiles."""

from hypothesis import settings

settings.register_profile("ours", deadline=None, derandomize=True)
settings.load_profile("ours")

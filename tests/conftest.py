"""What every test shares."""

from hypothesis import settings

# The same examples on every run: a search for new ones belongs to tests/benchmarks/fuzz.py, not to a
# change that has nothing to do with what it would find.
settings.register_profile("same_every_run", derandomize=True)
settings.load_profile("same_every_run")

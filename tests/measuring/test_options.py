"""What was asked for beyond the logs."""

import subprocess
import sys

from lapkit.measuring.options import Options


def test_columns_are_kept_in_the_order_in_which_they_were_given():
    options = Options.reading({"speed": "v", "lat": "Breite"}, trace=True)
    assert options.columns == (("speed", "v"), ("lat", "Breite"))
    assert options.trace
    assert Options.reading(None) == Options()


def test_options_load_nothing_heavy():
    code = "import sys, lapkit.measuring.options; sys.exit(bool({'pandas', 'scipy'} & set(sys.modules)))"
    assert subprocess.run([sys.executable, "-c", code]).returncode == 0

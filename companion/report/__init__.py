"""What a log comes to: the week sheet, and how it is printed."""

import sys
from types import ModuleType

# When it is loaded, ReportLab runs settings files that it finds in the user's home and in the
# current folder. A sheet must look the same everywhere, so it finds these empty ones first.
for _name in ("reportlab_settings", "reportlab_mods"):
    sys.modules.setdefault(_name, ModuleType(_name))

"""Files that go to the shop: cut files, paper templates, shop sheets. Brackets in, whole files out."""

from halfshaft.cut.files import Unwritable
from halfshaft.cut.station import CutFile, CutFiles, cut_files, window_files

__all__ = ["CutFile", "CutFiles", "Unwritable", "cut_files", "window_files"]

"""Tool path: the way a torch, a laser or a water jet runs over a nested sheet. Figures on a sheet in, code out."""

"""Plots of the Watch view; the only code that imports pyqtgraph."""

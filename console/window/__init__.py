"""The Qt window: views, panels, plots, theme."""

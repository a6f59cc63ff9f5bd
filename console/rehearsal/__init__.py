"""Trainee's calls against the truth."""

"""Estimators per source, source choice, cross-checks, time to contact, prediction at contact."""

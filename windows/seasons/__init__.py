"""Seasons: what many years of hours say about working days, durations and dates."""

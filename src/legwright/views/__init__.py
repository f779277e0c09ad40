"""Showing: report, drawings, plots, terminal tables."""

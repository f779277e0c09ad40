"""Judging: checks, findings, envelope."""

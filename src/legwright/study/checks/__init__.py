"""The checks: each module answers one question of the job with findings."""

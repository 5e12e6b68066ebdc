"""Revisions of a build: kept for good with hashes of every file, looked over, and two of them compared."""

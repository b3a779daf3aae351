"""The field log of a job: entries that are never changed, in one file, each bound to the last."""

"""One file per dialect; each registers the tables of `drivers.words` that it fills."""

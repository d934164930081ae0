"""One file per dialect; each registers the tables of `sequencer.values.dialect` that it fills."""

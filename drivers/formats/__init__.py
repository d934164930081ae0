"""One file per format of what a meter's data port sends; each registers a function that makes a `FrameReader`."""

"""Pure measures: arrays or frames in, frozen results out. No clock, no files, no randomness except a generator passed in."""

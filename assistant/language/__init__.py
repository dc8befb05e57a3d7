"""Grammar files as values: sequence files, phrase notation, replies, numbers, sound distance."""

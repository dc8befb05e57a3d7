"""One file for each word of the command line; __main__ gathers them."""

"""The numbers: arrays and rows in, arrays out; no file, no screen, no word of the maker's."""

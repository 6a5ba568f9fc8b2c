"""A frame seen as light, inks and print, before any mark is looked for."""

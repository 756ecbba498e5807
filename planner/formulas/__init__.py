"""Published formulas: floats or arrays in, floats or arrays out."""

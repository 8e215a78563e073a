"""Files of rows become readings of cells, and these a checked log with every problem told."""

"""Facts, worlds, statements: each rule against sets of plain values."""

"""Opens job files of every kind and turns them into sheets of rows of cells."""

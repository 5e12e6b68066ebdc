"""What brackets, bolts, welds and the cut frame must carry."""

"""Every fault of the line, tried on real parts: what is lost, and who is told what, when."""

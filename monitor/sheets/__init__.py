"""Labels and work sheets as pages of PDF, to be printed at the yard."""

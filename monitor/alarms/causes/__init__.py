"""Whether each cause of alarm holds, and what each alarm becomes by it."""

"""What is seen and decided: spaces, readings, assessments, alarms, messages."""

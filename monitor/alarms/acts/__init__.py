"""What people do about alarms: at the machine, and by the links in their letters."""

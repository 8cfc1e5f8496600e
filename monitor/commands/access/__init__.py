"""``laidup access``: who may speak to the yard's broker; certificates, passwords, device sheets."""

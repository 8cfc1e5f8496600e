"""What a letter says: lines of work, reasons and subject, as text, HTML, table and calendar."""

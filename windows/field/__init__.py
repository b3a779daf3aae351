"""What is made of a field log: checks on entry, readings due, the record, what readings teach."""

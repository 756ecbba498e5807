"""YAML text to frozen jobs and machines."""

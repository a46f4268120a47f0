"""What people see of an analysis: pictures, tables for other programs, and the report page."""

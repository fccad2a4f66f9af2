"""The wet side, pure: a process from developer to wash, a sheet's way through its trays, what each bath has had."""
